"""A week that the desk asked for is planned by the site on one machine, outside its web process."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.serving.processes import PLACE, started

pytestmark = pytest.mark.servers

ASK = """
from datetime import date
from django.utils import timezone
from service_center.planning.week_plan.actions import want_plan
want_plan(date(2026, 3, 9), as_of=date(2026, 3, 9), at=timezone.now(), by=None)
"""
LOOK = """
from service_center.planning.week_plan.models import WeekPlan
plan = WeekPlan.objects.get()
print("planned" if not plan.wanted else "waits", plan.fault)
"""


def in_a_shell(code: str, data: Path) -> str:
    environment = {key: value for key, value in os.environ.items() if not key.endswith("_URL")}
    command = [sys.executable, "manage.py", "shell", "-v0", "-c", code]
    done = subprocess.run(
        command, check=True, capture_output=True, text=True, cwd=PLACE, env={**environment, "DATA_DIR": str(data)}
    )
    return done.stdout.strip()


def test_a_week_that_waits_is_planned_by_the_worker(tmp_path: Path) -> None:
    with started("serve", tmp_path) as site:
        site.ready()
        in_a_shell(ASK, tmp_path)
        until = time.monotonic() + 120  # half a minute to the next look, and a process that starts
        while (said := in_a_shell(LOOK, tmp_path)).startswith("waits") and time.monotonic() < until:
            time.sleep(1)
        assert said == "planned nobody"
        site.terminate()
        assert site.others() == []
