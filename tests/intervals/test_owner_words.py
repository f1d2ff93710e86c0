"""Why now, as an owner reads it: every case, in every language that the house writes."""

from dataclasses import replace
from datetime import date

import pytest
from django.conf import settings
from django.utils import translation

from service_center.book.rules import EntryKind, Tightness, Use
from service_center.intervals.owner_words import why_now
from service_center.intervals.rules import Due
from tests.intervals.facts import due, entry, overhaul, piece, rule
from tests.intervals.test_evidence import falling, read

LANGUAGES = [code for code, _name in settings.LANGUAGES]
CASES = {
    "sale": (due(piece(), "overhaul", "2026-03-01"), "17 May 2019"),
    "in stock for long": (due(piece(made="2014-02-01"), "overhaul", "2023-06-01"), "1 February 2017"),
    "making": (due(piece(made="2019-02-01", sold=None), "overhaul", "2025-01-05"), "1 February 2019"),
    "overhaul": (due(piece(overhaul("2020-02-29")), "overhaul", "2026-03-01"), "28 February 2027"),
    "passed": (due(piece(overhaul("2025-02-28")), "tightness", "2026-01-01"), "28 February 2026"),
    "in water": (due(piece(overhaul("2025-02-28"), use=Use.IN_WATER), "tightness", "2025-06-01"), "28 August 2025"),
    "failed": (due(piece(entry("2024-02-02", tightness=Tightness.FAILED)), "tightness", "2026-01-01"), "2 February 2024"),
    "opened": (
        due(piece(entry("2024-02-02", kind=EntryKind.BATTERY, case_opened=True)), "tightness", "2026-01-01"),
        "2 February 2024",
    ),
    "reading": (
        due(replace(piece(), amplitudes=(read("2024-02-01", 184, wind="24h"),)), "overhaul", "2026-03-01"),
        "1 February 2024",
    ),
    "trend": (
        due(replace(piece(), amplitudes=tuple(falling(280, 264, 248, 232))), "overhaul", "2023-07-01"),
        "1 March 2024",
    ),
}  # fmt: skip


def told(found: Due, as_of: str = "2026-03-01", language: str = "en") -> str:
    with translation.override(language):
        return why_now(found, date.fromisoformat(as_of))


@pytest.mark.parametrize(("found", "day"), CASES.values(), ids=CASES.keys())
def test_the_sentence_names_the_day_that_matters_in_every_language(found: Due, day: str) -> None:
    sentences = {language: told(found, language=language) for language in LANGUAGES}
    assert day in sentences["en"]
    assert len(set(sentences.values())) == len(LANGUAGES), "none is only the English again"
    assert all("%(" not in sentence for sentence in sentences.values())


def test_the_house_s_rule_is_told_in_years_where_it_is_whole_years_and_bends_with_the_number() -> None:
    found = due(piece(), "overhaul", "2026-03-01")
    yearly = due(piece(overhaul("2025-02-28")), "tightness", "2026-01-01")
    odd = due(piece(), "overhaul", "2026-03-01", rules=(rule((60, 66, 84)),))
    assert "after 7 years" in told(found)
    assert "after 1 year:" in told(yearly)
    assert "after 66 months" in told(odd)
    assert "nach 1 Jahr eine" in told(yearly, language="de")
    assert "nach 7 Jahren eine" in told(found, language="de")
    assert "7年後" in told(found, language="ja")


def test_a_day_that_has_passed_is_told_as_past() -> None:
    found = due(piece(), "overhaul", "2026-08-01")
    assert told(found, "2026-05-16").endswith("by 17 May 2026.")
    assert told(found, "2026-05-17").endswith("it was due on 17 May 2026.")


def test_a_trend_whose_day_has_passed_is_told_as_past() -> None:
    found = CASES["trend"][0]
    assert "we recommend an overhaul by 1 March 2024." in told(found, "2024-02-29")
    assert "the overhaul was due on 1 March 2024." in told(found, "2024-03-01")


def test_what_was_measured_is_told_beside_what_age_alone_would_say() -> None:
    found = CASES["reading"][0]
    assert told(found) == (
        "When we measured it on 1 February 2024, its movement fell short of our limits: the overhaul should not wait. "
        "By its age alone it would be due on 17 May 2026."
    )
    assert "By its age alone it was due on 17 May 2026." in told(found, "2026-06-01")


def test_without_a_start_an_owner_reads_nothing() -> None:
    assert told(due(piece(sold=None), "overhaul", "2026-03-01")) == ""


def test_sentences_stand_apart_as_the_language_sets_them() -> None:
    assert "。 " not in told(CASES["sale"][0], language="ja")
    assert ". Weil" in told(CASES["sale"][0], language="de")
