"""A dry test of tightness at the counter: optional, in its order, and gone on with by the workshop."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from service_center.book.models import HistoryEntry, Piece
from service_center.intake.models import DropOff
from service_center.intake.papers import receipt, size_for
from service_center.measurements.actions import begin_run
from service_center.measurements.actions.tightness import upcoming
from service_center.measurements.models import TightnessRun
from tests.factories import PieceFactory, StaffFactory
from tests.owner_pages.test_data import text_of_pdf

pytestmark = pytest.mark.django_db

PASSED = {"looked": "on", "dry_vacuum-passed": "yes", "dry_pressure-passed": "yes"}
FIGURES = {
    "dry_pressure-bar": "2",
    "dry_pressure-minutes": "1",
    "dry_pressure-drop": "0.5",
    "dry_pressure-volume": "20",
    "dry_pressure-start": "21",
}
AtCounter = Callable[..., Any]


@pytest.fixture
def piece() -> Piece:
    made: Piece = PieceFactory(model__rated_bar=10)
    return made


@pytest.fixture
def counter(piece: Piece, counter_of: AtCounter) -> Any:
    assert piece.boutique
    client = Client()
    client.force_login(StaffFactory(role="boutique", boutique=piece.boutique.code))
    at = counter_of(client)
    at.begin(piece)
    at.say_all()
    return at


def said(counter: Any, **fields: str) -> str:
    answer = counter.say("readings", **fields)
    assert answer.status_code == 422
    return answer.content.decode()


def test_passed_in_air_it_goes_into_a_run_that_the_workshop_goes_on_with(counter: Any, piece: Piece) -> None:
    assert counter.say("readings", **PASSED).status_code == 302
    assert "Tightness test in air at the counter: passed." in counter.see("sign")
    assert not TightnessRun.objects.exists()  # nothing is kept before the piece is taken in
    counter.sign()
    run = TightnessRun.objects.get(piece=piece)
    assert upcoming(run) == "water"
    assert [(one.test, one.passed) for one in run.results.order_by("pk")] == [
        ("look", True), ("dry_vacuum", True), ("dry_pressure", True),
    ]  # fmt: skip
    assert not HistoryEntry.objects.filter(piece=piece, kind="tightness_check").exists()


def test_failed_in_air_stands_in_the_history_and_on_the_receipt(counter: Any, piece: Piece) -> None:
    counter.say("readings", **{"looked": "on", "dry_vacuum-passed": "no"})
    counter.sign()
    assert HistoryEntry.objects.get(piece=piece, kind="tightness_check").tightness == "failed"
    taken = DropOff.objects.get()
    text = " ".join(text_of_pdf(receipt(taken, size=size_for(taken))).split())
    assert "Tightness test in air at the counter: not passed. Keep the watch away from water." in text
    page = counter.client.get(reverse("intake:taken_in", args=[taken.pk])).content.decode()
    assert "not passed" in page


def test_left_empty_the_workshop_tests(counter: Any) -> None:
    counter.sign()
    assert not TightnessRun.objects.exists()
    assert "the tightness test will be taken at the workshop" in DropOff.objects.get().signature.text


def test_the_leak_flow_decides_where_the_tester_shows_figures(counter: Any, piece: Piece) -> None:
    """0.5 mbar of 20 ml in a minute at 21 °C is about 11.8 micrograms of air: by hand, pV/RT with 28.96 g/mol."""
    counter.say("readings", **{**PASSED, **FIGURES, "dry_pressure-passed": ""})
    counter.sign()
    result = TightnessRun.objects.get(piece=piece).results.get(test="dry_pressure")
    assert result.passed
    assert 11.5 < result.micrograms_a_minute < 12.2


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"looked": "on", "dry_pressure-passed": "yes"}, "The test under vacuum comes before it."),
        ({**PASSED, "dry_vacuum-passed": "no"}, "The test before it failed"),
        ({**PASSED, "looked": ""}, "Look first"),
        ({**PASSED, **FIGURES, "dry_pressure-volume": ""}, "A leak flow needs it."),
        ({**PASSED, **FIGURES, "dry_pressure-start": "-300"}, "It lies between -20 and 90."),
        ({**PASSED, **FIGURES, "dry_pressure-bar": "1"}, "The plan asks for 2 bar"),
        ({**PASSED, **FIGURES, "dry_pressure-minutes": "0"}, "It lies between 0.05 and 6000."),
        ({**PASSED, **FIGURES, "dry_pressure-drop": "much"}, "is not a number"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason_and_nothing_is_lost(
    counter: Any, fields: dict[str, str], why: str
) -> None:
    page = said(counter, **fields)
    assert why in page
    if "dry_pressure-drop" in fields:
        assert f'value="{fields["dry_pressure-drop"]}"' in counter.see("readings")
    assert "these steps need something" in counter.see("sign")


def test_a_piece_without_a_rating_is_not_tested_here(counter_of: AtCounter) -> None:
    piece = PieceFactory(model__rated_bar=None)
    client = Client()
    client.force_login(StaffFactory(role="boutique", boutique=piece.boutique.code))
    at = counter_of(client)
    at.begin(piece)
    assert "dry_pressure" not in at.see("readings")


def test_tests_that_wait_elsewhere_go_on_there(counter: Any, piece: Piece) -> None:
    """Begun at a bench after the step was typed: the text is shown again, and nothing is kept twice."""
    counter.say("readings", **PASSED)
    run = begin_run(piece, form_key=uuid4(), on=piece.sold_on, by=None)
    assert "Go on with them" in counter.see("readings")
    counter.sign()
    assert list(TightnessRun.objects.all()) == [run]
