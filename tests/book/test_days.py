"""A day as owners read it: French and Italian write the first of a month as an ordinal, and no other day."""

import re
from datetime import UTC, date, datetime

import pytest
from django.conf import settings
from django.template import Context, Template
from django.utils import timezone, translation

from service_center.book.days import day_written
from service_center.intake.visits.wording import full_day, short_day

FIRST, ELEVENTH, OF_YEAR_ONE = date(2026, 12, 1), date(2021, 1, 11), date(2001, 1, 1)
OWN_PATTERN = re.compile(r'date_format\((?![^\n]*"[^"]*[jdlDMFY]+ [^"]*"\))|DATE_FORMAT')


@pytest.mark.parametrize(
    ("language", "written"),
    [
        ("en", ["1 December 2026", "11 January 2021", "1 January 2001"]),
        ("fr", ["1er décembre 2026", "11 janvier 2021", "1er janvier 2001"]),
        ("de", ["1. Dezember 2026", "11. Januar 2021", "1. Januar 2001"]),
        ("it", ["1º dicembre 2026", "11 gennaio 2021", "1º gennaio 2001"]),
        ("es", ["1 de diciembre de 2026", "11 de enero de 2021", "1 de enero de 2001"]),
        ("ja", ["2026年12月1日", "2021年1月11日", "2001年1月1日"]),
    ],
)
def test_each_language_writes_a_day_its_own_way(language: str, written: list[str]) -> None:
    with translation.override(language):
        assert [day_written(day) for day in (FIRST, ELEVENTH, OF_YEAR_ONE)] == written
        assert (
            Template("{% load days %}{{ day|written }}{{ none|written }}").render(Context({"day": FIRST})) == written[0]
        )


@pytest.mark.parametrize(
    ("language", "in_full", "short"),
    [
        ("fr", "mardi 1er décembre 2026", "mar. 1er déc."),
        ("it", "martedì 1º dicembre 2026", "mar 1º dic"),
        ("de", "Dienstag, 1. Dezember 2026", "Di., 1. Dez."),
        ("en", "Tuesday, 1 December 2026", "Tue 1 Dec"),
    ],
)
def test_the_day_of_a_visit_too(language: str, in_full: str, short: str) -> None:
    with translation.override(language):
        assert (full_day(FIRST), short_day(FIRST)) == (in_full, short)


def test_a_moment_is_written_as_the_day_it_is_in_the_house() -> None:
    moment = datetime(2026, 11, 30, 23, 30, tzinfo=UTC)
    with translation.override("fr"), timezone.override("Europe/Zurich"):
        assert day_written(moment) == "1er décembre 2026"
        assert Template("{% load days %}{{ at|written }}").render(Context({"at": moment})) == "1er décembre 2026"


def test_no_owner_reads_a_day_that_was_written_otherwise() -> None:
    """Only staff read days by patterns of their own: their pages are English."""
    root = settings.BASE_DIR
    code = [file for file in (root / "service_center").rglob("*.py") if "locale" not in file.parts]
    others = [file for file in code if file.name != "days.py" and OWN_PATTERN.search(file.read_text())]
    pages = [file for file in (root / "templates").rglob("*.html") if "DATE_FORMAT" in file.read_text()]
    of_owners = re.compile(r'\|date:"(?!Y-m-d"|c")')
    pages += [file for file in (root / "templates/owner_pages").rglob("*.html") if of_owners.search(file.read_text())]
    assert (others, pages) == ([], [])
