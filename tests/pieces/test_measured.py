"""The date by rule beside the date by evidence, and the chart of the reading with its limit."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from xml.etree import ElementTree as ET

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from service_center.book.models import Piece
from service_center.measurements.actions import record_sheet
from service_center.measurements.rules import Reading, Wind
from service_center.measurements.rules.trend import trend_of
from service_center.pieces.evidence import Measured
from service_center.pieces.rules import chart_of
from tests.factories import PieceFactory, history

SVG = "{http://www.w3.org/2000/svg}"


def read(piece: Piece, *degrees: int, wind: Wind = Wind.FULL, first: int = 2020) -> None:
    """One visit a year, on 1 June, the crown up."""
    for number, amplitude in enumerate(degrees):
        readings = [Reading("6H", wind, Decimal(1), Decimal(amplitude), None)]
        record_sheet(piece, readings, taken_on=date(first + number, 6, 1), by=None)


@pytest.fixture
def shown(piece: Piece, signed_in: Callable[..., Client]) -> Callable[..., tuple[Measured, str]]:
    def open_page(query: str = "?as_of=2023-07-01") -> tuple[Measured, str]:
        answer = signed_in("desk").get(f"/pieces/{piece.pk}/{query}")
        return answer.context["measured"], answer.content.decode()

    return open_page


def test_a_trend_that_meets_the_limit_early_shows_both_days_and_draws_the_meeting(
    piece: Piece, shown: Callable[..., tuple[Measured, str]]
) -> None:
    read(piece, 280, 264, 248, 232)
    measured, page = shown()
    assert (str(measured.by_rule), str(measured.by_evidence)) == ("2026-05-17", "2024-03-01")
    [figure] = measured.figures
    assert figure.chart.line
    assert [kind for kind, _mark in figure.chart.days] == ["rule", "evidence"]
    assert "It reaches the limit of 220° on 1 Mar 2024" in figure.finding
    assert "The trend decides" in page


def test_a_slope_that_cannot_be_told_from_none_says_so_and_draws_no_line(
    piece: Piece, shown: Callable[..., tuple[Measured, str]]
) -> None:
    read(piece, 270, 255, 271, 256)
    measured, _page = shown()
    [figure] = measured.figures
    assert (measured.by_evidence, figure.chart.line, figure.chart.band) == (None, "", "")
    assert "That cannot be told from no change, so no day is projected." in figure.finding
    assert [kind for kind, _mark in figure.chart.days] == ["rule"]


def test_a_reading_below_the_limit_is_named_with_its_day_and_the_overhaul_is_owed(
    piece: Piece, shown: Callable[..., tuple[Measured, str]]
) -> None:
    read(piece, 184, wind=Wind.AFTER_24H, first=2022)
    measured, page = shown()
    assert str(measured.by_evidence) == "2022-06-01"
    assert "184° in 6H after 24 h on 1 Jun 2022 is below 190°" in measured.decides
    assert measured.figures[0].rows[0].below
    assert [kind for kind, _mark in measured.figures[0].chart.days] == ["rule"]
    assert "state--owed" in page


def test_a_late_trend_leaves_the_rule_s_day_and_says_so(
    piece: Piece, shown: Callable[..., tuple[Measured, str]]
) -> None:
    read(piece, 300, 298, 296)
    measured, _page = shown()
    assert measured.by_evidence is None
    assert "That is no earlier than the day by the rule, which stands." in measured.figures[0].finding


def test_two_visits_say_that_a_trend_needs_three(piece: Piece, shown: Callable[..., tuple[Measured, str]]) -> None:
    read(piece, 280, 260)
    assert shown()[0].figures[0].finding == "2 visits so far: a trend needs 3."


def test_the_figure_that_decides_comes_first(piece: Piece, shown: Callable[..., tuple[Measured, str]]) -> None:
    read(piece, 280, 279, 280)
    read(piece, 230, 186, wind=Wind.AFTER_24H)
    assert [figure.key for figure in shown()[0].figures] == ["24h", "full"]


def test_readings_of_the_interval_before_are_not_shown(
    piece: Piece, shown: Callable[..., tuple[Measured, str]]
) -> None:
    read(piece, 280, 264, 248)
    history(piece, "2022-12-12")
    assert shown()[0] is None


def test_the_picture_has_a_title_a_text_and_the_same_numbers_in_a_table(
    piece: Piece, shown: Callable[..., tuple[Measured, str]]
) -> None:
    read(piece, 280, 264, 248, 232)
    _measured, page = shown()
    _before, _mark, rest = page.partition('<svg class="chart"')
    drawn, _end, table = rest.partition("</svg>")
    svg = ET.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg"{drawn}</svg>')
    title, text = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
    assert title is not None
    assert text is not None
    assert svg.get("aria-labelledby") == f"{title.get('id')} {text.get('id')}"
    assert len(svg.findall(f"{SVG}circle")) == 4
    assert "style=" not in drawn, "colours are the style sheet's: paper and dark screens need others"
    assert all(f"{degrees}°" in table for degrees in (280, 264, 248, 232))


VISITS = st.dictionaries(st.dates(date(2016, 1, 2), date(2030, 1, 1)), st.integers(100, 340), min_size=1, max_size=14)


@given(VISITS, st.dates(date(2018, 1, 1), date(2040, 1, 1)))
def test_every_visit_and_day_stands_within_the_picture(visits: dict[date, int], due: date) -> None:
    told = sorted(visits.items())
    trend = trend_of([day for day, _value in told], [value for _day, value in told])
    chart = chart_of(
        start=date(2016, 1, 1),
        visits=[(day, float(value)) for day, value in told],
        limit=220,
        limit_text="limit 220°",
        trend=trend if trend and (trend.falls or trend.rises) else None,
        days=[("rule", due, "Due by the rule")],
    )
    assert all(chart.left <= mark.x <= chart.right for mark in chart.visits)
    assert all(chart.top <= mark.y <= chart.bottom for mark in chart.visits)
    assert all(chart.left <= mark.x <= chart.right for _kind, mark in chart.days)
    assert chart.top <= chart.limit.y <= chart.bottom


@pytest.mark.django_db
def test_a_piece_without_a_start_or_a_reading_shows_no_picture(signed_in: Callable[..., Client]) -> None:
    desk = signed_in("desk")
    for piece in (PieceFactory(), PieceFactory(made_on=None, sold_on=None)):
        assert '<svg class="chart"' not in desk.get(f"/pieces/{piece.pk}/").content.decode()
