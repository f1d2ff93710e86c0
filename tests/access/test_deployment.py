"""With the settings of a real site, the framework's own check of a deployment finds nothing to say."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings

ENVIRONMENT = {
    "SITE_URL": "https://service.fernhollow.example",
    "SECRET_KEY": "a-key-of-fifty-characters-and-more-made-for-this-test-0123456789",
    "DATABASE_URL": "postgres://service@127.0.0.1:1/service",
    "BROKER_URL": "redis://127.0.0.1:1/0",
    "CACHE_URL": "redis://127.0.0.1:1/1",
    "EMAIL_URL": "smtp://127.0.0.1:1",
    "TRUSTED_PROXIES": "1",
}


def manage(*words: str, data: Path, **changes: str) -> subprocess.CompletedProcess[str]:
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=settings.BASE_DIR,
        env={**kept, **ENVIRONMENT, "DATA_DIR": str(data), **changes},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_the_check_of_a_deployment_is_clean(tmp_path: Path) -> None:
    result = manage("check", "--deploy", "--fail-level", "WARNING", data=tmp_path)
    assert (result.returncode, result.stderr) == (0, "")
    assert "no issues" in result.stdout


@pytest.mark.parametrize(("changes", "found"), [({"SECRET_KEY": "short"}, "W009"), ({"DEBUG": "1"}, "W018")])
def test_the_check_sees_what_it_should(tmp_path: Path, changes: dict[str, str], found: str) -> None:
    result = manage("check", "--deploy", "--fail-level", "WARNING", data=tmp_path, **changes)
    assert result.returncode == 1
    assert found in result.stderr
