"""What README and DEVELOPERS say is true: settings, paths and commands exist; locks and scripts name no address."""

import ast
import re
from pathlib import Path

import pytest
from django.core.management import get_commands

PLACE = Path(__file__).resolve().parents[2]
README = (PLACE / "README.md").read_text()
DEVELOPERS = (PLACE / "DEVELOPERS.md").read_text()
RUN = (PLACE / "run").read_text()


def code(document: str) -> set[str]:
    """Everything in code marks or code blocks, by word."""
    blocks = re.findall(r"^```\w*\n(.*?)^```", document, re.MULTILINE | re.DOTALL)
    marks = re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```", "", document, flags=re.MULTILINE | re.DOTALL))
    return {word for part in [*blocks, *marks] for word in part.split()}


@pytest.mark.parametrize("document", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_path_named_in_a_document_exists(document: str) -> None:
    words = {word.lstrip("(").rstrip("().,;") for word in code(document)}
    paths = {word for word in words if re.fullmatch(r"[\w.-]+(/[\w.-]*)+", word)}
    # APP stands for any app, and some have the folders; .venv is what the set-up makes.
    named = {path for path in paths if not path.startswith((".venv/", "management/", "rules/")) and "APP" not in path}
    assert [path for path in sorted(named) if not (PLACE / path).exists()] == []
    assert named


@pytest.mark.parametrize("document", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_command_named_in_a_document_exists(document: str) -> None:
    known = get_commands()
    for name in re.findall(r"manage\.py (\w+)", document):
        assert name in known
    for name in re.findall(r"\./run (\w+)", document):
        assert re.search(rf"^ *([\w| ]*\b)?{name}\b[\w| ]*\)", RUN, re.MULTILINE), name


def test_every_command_in_the_readmes_table_exists() -> None:
    rows = re.findall(r"^\| ((?:`\w+`(?:, )?)+) \|", README, re.MULTILINE)
    names = {name for row in rows for name in re.findall(r"`([a-z_]+)`", row)}
    assert {"import_book", "daily_round"} <= names
    assert names <= set(get_commands())


def test_every_setting_that_is_read_stands_in_the_readme() -> None:
    tree = ast.parse((PLACE / "service_center" / "settings.py").read_text())
    read = {
        call.args[0].value
        for call in ast.walk(tree)
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Attribute)
        and isinstance(call.func.value, ast.Name)
        and call.func.value.id == "env"
        and call.args
        and isinstance(call.args[0], ast.Constant)
    }
    assert {"DATABASE_URL", "EMAIL_URL"} <= read
    assert read - code(README) == set()


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-dev.lock"])
def test_a_lock_has_a_hash_for_every_package_and_names_no_address(name: str) -> None:
    text = (PLACE / name).read_text()
    packages = re.findall(r"^([\w.\[\]-]+)==", text, re.MULTILINE)
    blocks = re.split(r"^(?=[\w.\[\]-]+==)", text, flags=re.MULTILINE)[1:]
    assert len(packages) == len(blocks) > 20
    assert [block.split("==")[0] for block in blocks if "--hash=sha256:" not in block] == []
    assert re.findall(r"https?://|\b[\w-]+\.(?:com|org|net|io)/", text) == []


def test_whoever_has_the_development_lock_has_all_of_the_other() -> None:
    def pins(name: str) -> set[str]:
        return set(re.findall(r"^[\w.\[\]-]+==\S+", (PLACE / name).read_text(), re.MULTILINE))

    assert pins("requirements.lock") <= pins("requirements-dev.lock")


def test_the_set_up_names_no_address() -> None:
    assert re.findall(r"https?://(?!service\.fernhollow\.example)\S+", RUN) == []


def test_the_images_packages_are_those_of_the_script() -> None:
    compose = (PLACE / "docker-compose.yml").read_text()
    for package in ("python3-venv", "libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"):
        assert package in RUN
        assert package in compose
