"""What a round makes of a letter that left late, is in doubt, or waits for its second try (letters.md, one letter)."""

from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest

from service_center.book.models import Owner, Piece
from service_center.letters.actions.writing import Wrote, write_letters
from service_center.letters.models import Letter, Reminder, Round
from service_center.letters.queries.rounds import owners_before_round
from service_center.letters.rules.deciding import Reason, decide
from tests.letters.conftest import round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]


def test_a_letter_that_was_handed_over_late_counts_from_that_day(due_piece: Make, sink: MailSink) -> None:
    """For the pause of 28 days, and for the nudge after 42."""
    first = due_piece()
    near = due_piece(owner=first.owner, sold_on=date(2019, 6, 10))
    round_on("2026-03-18")
    send()
    Letter.objects.update(sent_at=datetime(2026, 3, 26, 8, tzinfo=UTC))
    soon = round_on("2026-04-22")
    assert [(one.serial, one.reason) for one in soon.not_written] == [(near.serial, Reason.LETTER_NOT_LONG_AGO)]
    assert round_on("2026-04-23").letters == 1
    # 42 days after the 26th is 7 May, within the 21 days in which it travels with the other piece's letter.
    assert set(Reminder.objects.values_list("piece", "step")) == {
        (first.pk, "invitation"), (near.pk, "invitation"), (first.pk, "nudge"),
    }  # fmt: skip


def test_the_nudge_is_counted_from_the_day_on_which_the_letter_left(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    send()
    Letter.objects.update(sent_at=datetime(2026, 3, 26, 8, tzinfo=UTC))
    assert round_on("2026-05-06").reminders == 0
    assert round_on("2026-05-07").reminders == 1


@pytest.mark.parametrize("phase", ["dot", "after"])
def test_a_letter_in_doubt_counts_for_the_28_days_and_nothing_follows_it(
    due_piece: Make, sink: MailSink, phase: str
) -> None:
    first = due_piece()
    near = due_piece(owner=first.owner, sold_on=date(2019, 6, 10))
    round_on("2026-03-18")
    sink.fail(phase, "drop")
    assert send().in_doubt == 1
    Letter.objects.update(dot_at=datetime(2026, 3, 18, 9, tzinfo=UTC))
    soon = round_on("2026-04-14")
    assert [(one.serial, one.reason) for one in soon.not_written] == [(near.serial, Reason.LETTER_NOT_LONG_AGO)]
    assert round_on("2026-06-01").reminders == 1  # the other piece's invitation, and no nudge
    assert not Reminder.objects.filter(step="nudge").exists()


def test_a_letter_that_waits_for_its_second_try_takes_nothing_along(due_piece: Make, sink: MailSink) -> None:
    """It goes as the same message: what falls due meanwhile has a letter of its own, later."""
    first = due_piece()
    due_piece(owner=first.owner, sold_on=date(2019, 8, 1))
    round_on("2026-03-18")
    sink.fail("rcpt", "451 4.3.0 not now")
    send()
    later = round_on("2026-06-02")
    assert (later.reminders, {one.reason for one in later.not_written}) == (0, {Reason.LETTER_ON_ITS_WAY})


def test_a_letter_that_was_tried_while_the_round_decided_takes_nothing_along(due_piece: Make) -> None:
    first = due_piece()
    assert first.owner is not None
    due_piece(owner=first.owner, sold_on=date(2019, 8, 1))
    round_on("2026-03-18")
    day = date(2026, 6, 2)
    [before] = owners_before_round(Owner.objects.all(), day)
    decision = decide(before.side, day, lambda _day: True)
    assert decision.joins == Letter.objects.get().pk
    Letter.objects.update(attempt=1)  # a sender had it in hand, and was told "not now"
    assert write_letters([(before, decision)], day, Round.objects.get()) == Wrote()
    assert Reminder.objects.count() == 1
