"""Past forecasts against what came, and what stands behind a bar."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse

from service_center.book.models import HistoryEntry, Piece
from service_center.letters.models import Letter, Reminder
from service_center.planning.actions import count_arrivals, keep_said
from service_center.planning.models import Forecast, WeekArrivals
from service_center.planning.queries.answers import arrivals_by_week
from service_center.planning.queries.scoring import what_came
from service_center.planning.rules.arrivals import OVERHAUL_INVITATION, common_shares
from service_center.planning.rules.behind import invited_for, orders_of_week
from service_center.planning.rules.curves import letter_curves
from service_center.planning.rules.picture import SkillWeeks
from service_center.planning.rules.scoring import Came, Said, said_of, score
from service_center.planning.rules.survival import Sent

Sold = Callable[..., list[Piece]]
MONDAY = date(2026, 9, 7)


def written_to(piece: Piece, day: date) -> None:
    letter = Letter.objects.create(
        owner=piece.owner, language="en", planned_on=day, state="sent", not_before=datetime(2026, 1, 1, tzinfo=UTC)
    )
    Reminder.objects.create(
        piece=piece, kind="overhaul", starts_on=date(2019, 1, 1), step="invitation", letter=letter, due_on=day
    )


def overhauled(piece: Piece, day: date) -> None:
    HistoryEntry.objects.create(code=f"{piece.pk}", piece=piece, kind="overhaul", done_on=day, done_by="own")


def test_arrivals_are_counted_in_their_week_by_skill_where_a_letter_brought_them(sold: Sold) -> None:
    here, late, unasked, before = sold(4, "2019-01-01")
    for piece in (here, late, before):
        written_to(piece, date(2026, 8, 3) if piece != late else date(2026, 1, 5))
    overhauled(here, MONDAY + timedelta(days=6))
    overhauled(late, MONDAY)  # 35 weeks after its letter: no answer to it any more
    overhauled(unasked, MONDAY)
    overhauled(before, MONDAY - timedelta(days=1))
    assert arrivals_by_week(MONDAY, MONDAY + timedelta(weeks=1)) == {(MONDAY, "automatic"): 1}


def test_a_forecast_is_said_once_a_week_and_never_changed(db: None) -> None:
    assert keep_said({"simple": [Said(2.0, 0, 4)]}, made_on=MONDAY)
    keep_said({"simple": [Said(9.0, 5, 13)]}, made_on=MONDAY + timedelta(days=2))
    kept = Forecast.objects.get()
    assert (kept.expected, kept.ahead, kept.made_on) == (2.0, 0, MONDAY)
    with pytest.raises(DatabaseError), transaction.atomic():
        Forecast.objects.update(high=100)


def test_weeks_that_are_over_are_scored_at_each_horizon(sold: Sold) -> None:
    keep_said({"automatic": [Said(1.0, 0, 2)] * 13, "simple": [Said(1.0, 1, 2)] * 13}, made_on=MONDAY)
    piece = sold(1, "2019-01-01")[0]
    written_to(piece, MONDAY)
    overhauled(piece, MONDAY + timedelta(weeks=4))
    after = MONDAY + timedelta(weeks=5)
    assert count_arrivals(as_of=after) == 5
    found = what_came(after)
    assert [(one.skill, one.ahead, one.pieces, one.inside) for one in found.weeks] == [
        ("automatic", 1, 0, True),
        ("simple", 1, 0, False),
        ("automatic", 4, 1, True),
        ("simple", 4, 0, False),
    ]


def test_a_week_is_counted_anew_while_entries_come_in_late(sold: Sold) -> None:
    keep_said({"automatic": [Said(1.0, 0, 2)]}, made_on=MONDAY)
    piece = sold(1, "2019-01-01")[0]
    written_to(piece, MONDAY - timedelta(weeks=2))
    count_arrivals(as_of=MONDAY + timedelta(weeks=1))
    overhauled(piece, MONDAY + timedelta(days=1))
    count_arrivals(as_of=MONDAY + timedelta(weeks=2))
    assert WeekArrivals.objects.get(week=MONDAY, skill="automatic").pieces == 1


def test_the_page_is_honest_where_there_is_nothing_to_score(signed_in: Callable[..., Client]) -> None:
    desk = signed_in("desk")
    assert "No forecast has been made yet" in desk.get(reverse("planning:scores")).content.decode()
    keep_said({"simple": [Said(1.0, 0, 2)]}, made_on=MONDAY)
    assert "none of its weeks is over yet" in desk.get(reverse("planning:scores")).content.decode()


def test_the_page_says_how_many_weeks_lay_inside(signed_in: Callable[..., Client], sold: Sold) -> None:
    keep_said({"automatic": [Said(1.0, 1, 2)] * 13}, made_on=MONDAY)
    count_arrivals(as_of=MONDAY + timedelta(weeks=5))
    page = signed_in("desk").get(reverse("planning:scores"), {"ahead": "4"}).content.decode()
    assert "0 of 1 weeks lay inside their range; 0 came, 1 were expected." in page
    assert "ranges-chart__outside" in page


def test_ranges_hold_at_least_eight_weeks_of_ten_where_the_curve_is_right() -> None:
    """By simulation: whole pieces make a range wider than it says, never narrower."""
    dice = np.random.default_rng(7)
    said = said_of([0.4, 1.5, 6.0, 25.0, 80.0])
    for one in said:
        came = dice.poisson(one.expected, 20_000)
        share = score(Came("simple", 1, one, int(pieces)) for pieces in came).share
        assert share is not None
        assert share >= 79
        if one.expected >= 25:
            assert share <= 86


def test_nothing_to_score_has_no_share() -> None:
    assert score([]).share is None


def test_orders_fill_the_promised_hours_one_after_the_other() -> None:
    promised, orders = [4.0, 4.0, 2.0], [(1, 3.0), (2, 5.0), (3, 2.0)]
    assert [(part.key, part.hours) for part in orders_of_week(promised, orders, 0)] == [(1, 3.0), (2, 1.0)]
    assert [(part.key, part.hours) for part in orders_of_week(promised, orders, 1)] == [(2, 4.0)]
    assert [(part.key, part.hours) for part in orders_of_week(promised, orders, 2)] == [(3, 2.0)]


def test_the_invitations_behind_a_week_bring_its_hours() -> None:
    nothing = [0.0] * 4
    one = SkillWeeks(
        "simple", 2.0, [0.0, 0.3, 0.1], nothing, nothing, nothing, nothing, nothing, nothing, [10, 20, 0, 5], [0] * 4
    )
    parts = invited_for(one, 2)
    assert [(part.week, part.pieces) for part in parts] == [(0, 10), (1, 20)]
    assert sum(part.hours for part in parts) == pytest.approx(2 * (10 * 0.1 + 20 * 0.3))


def test_a_curve_says_on_how_many_letters_it_rests() -> None:
    letters = {OVERHAUL_INVITATION: {"simple": [Sent(3, True, 30), Sent(5, False, 20), Sent(60, False, 50)]}}
    first, *others = letter_curves(letters)
    assert (first.letters, first.came, first.open) == (100, 30, 20)
    assert first.seen[3] == pytest.approx(0.3)
    assert first.low[3] < 0.3 < first.high[3]
    assert first.half_within == 4
    assert all(not one.letters and not one.seen for one in others)
    assert others[0].learnt[-1] < sum(common_shares(OVERHAUL_INVITATION))
