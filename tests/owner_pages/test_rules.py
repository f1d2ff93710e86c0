"""Between which days an answer may lie."""

from datetime import date

import pytest

from service_center.letters.rules.words import AnswerChoice
from service_center.owner_pages.rules import days_for

TODAY = date(2026, 6, 5)
SOLD = date(2019, 5, 17)


@pytest.mark.parametrize(
    ("choice", "day", "may"),
    [
        (AnswerChoice.BOOKED, date(2026, 6, 5), False),
        (AnswerChoice.BOOKED, date(2026, 6, 6), True),
        (AnswerChoice.BOOKED, date(2026, 12, 2), True),
        (AnswerChoice.BOOKED, date(2026, 12, 3), False),
        (AnswerChoice.NOT_NOW, date(2026, 6, 5), False),
        (AnswerChoice.NOT_NOW, date(2026, 6, 6), True),
        (AnswerChoice.NOT_NOW, date(2028, 6, 4), True),
        (AnswerChoice.NOT_NOW, date(2028, 6, 5), False),
        (AnswerChoice.DONE_ELSEWHERE, date(2019, 5, 16), False),
        (AnswerChoice.DONE_ELSEWHERE, date(2019, 5, 17), True),
        (AnswerChoice.DONE_ELSEWHERE, date(2026, 6, 5), True),
        (AnswerChoice.DONE_ELSEWHERE, date(2026, 6, 6), False),
    ],
)
def test_a_visit_and_a_pause_lie_ahead_and_what_was_done_lies_behind(
    choice: AnswerChoice, day: date, may: bool
) -> None:
    days = days_for(choice, today=TODAY, starts_on=SOLD)
    assert days is not None
    assert days.hold(day) is may


@pytest.mark.parametrize("choice", [AnswerChoice.NO_LONGER_MINE, AnswerChoice.NO_MORE_LETTERS])
def test_other_answers_name_no_day(choice: AnswerChoice) -> None:
    assert days_for(choice, today=TODAY, starts_on=SOLD) is None


@pytest.mark.parametrize("choice", [AnswerChoice.BOOKED, AnswerChoice.NOT_NOW])
def test_the_proposed_day_is_one_that_may_be_chosen(choice: AnswerChoice) -> None:
    days = days_for(choice, today=TODAY, starts_on=SOLD)
    assert days is not None
    assert days.proposed is not None
    assert days.hold(days.proposed)
