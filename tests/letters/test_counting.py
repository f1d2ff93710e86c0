"""The weeks ahead of a book that is slow to count are counted every hour; a small book is counted as one looks."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from service_center.book.models import Piece
from service_center.celery import app
from service_center.letters.actions import count_ahead
from service_center.letters.models import CountedAhead
from service_center.letters.queries.ahead import by_day
from service_center.letters.tasks import count_ahead as task
from tests.letters.conftest import recount

NOW = datetime(2026, 3, 1, 9, tzinfo=UTC)
FIRST, LAST = date(2026, 3, 2), date(2026, 5, 31)
COMES_UP = {date(2026, 3, 18): 1}


@pytest.fixture
def counted(due_piece: Callable[..., Piece]) -> CountedAhead:
    """A book whose one reminder to come was counted, and another piece that came into it since."""
    due_piece()
    recount("2026-03-01")
    made = count_ahead(as_of=date(2026, 3, 1), now=NOW)
    due_piece()
    recount("2026-03-01")
    return made


def test_a_small_book_is_counted_as_one_looks(counted: CountedAhead) -> None:
    CountedAhead.objects.update(seconds=0.1)
    found = by_day(FIRST, LAST, now=NOW)
    assert (found.counts, found.made_at) == ({date(2026, 3, 18): 2}, None)


def test_of_a_slow_one_the_kept_counts_are_shown_with_their_moment(counted: CountedAhead) -> None:
    CountedAhead.objects.update(seconds=40)
    found = by_day(FIRST, LAST, now=NOW + timedelta(hours=25))
    assert (found.counts, found.made_at) == (COMES_UP, NOW)
    assert by_day(FIRST, LAST, now=NOW + timedelta(hours=27)).made_at is None
    count_ahead(as_of=date(2026, 3, 1), now=NOW)
    assert CountedAhead.objects.count() == 1


def test_the_timetable_asks_for_it_every_hour() -> None:
    assert app.conf.beat_schedule["count_ahead"]["task"] == task.name
