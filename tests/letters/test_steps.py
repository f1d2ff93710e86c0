"""Which letter comes when (design/letters.md, steps). Pure: no database."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from service_center.book.rules import ServiceKind
from service_center.letters.rules.deciding import (
    Decision,
    NotWritten,
    OwnerSide,
    OwnersMail,
    Reason,
    decide,
    out_of_reach,
)
from service_center.letters.rules.steps import DueService, Reminded, Said, day_out, invitation_day, next_step
from service_center.letters.rules.words import AnswerChoice, Step

OVERHAUL, TIGHTNESS = ServiceKind.OVERHAUL, ServiceKind.TIGHTNESS


def day(text: str) -> date:
    return date.fromisoformat(text)


def overhaul(
    due: str = "2026-05-17", opens: str = "2025-05-17", closes: str = "2027-05-17", *, piece: int = 1
) -> DueService:
    return DueService(piece, f"FH-{piece}", OVERHAUL, day("2019-05-17"), day(opens), day(due), day(closes))


def tightness(opens: str = "2026-03-02", *, piece: int = 1, owed: str | None = None) -> DueService:
    since = day(owed) if owed else None
    return DueService(
        piece, f"FH-{piece}", TIGHTNESS, day("2025-04-02"), since or day(opens), since or day("2026-04-02"),
        since or day("2026-07-02"), since,
    )  # fmt: skip


def invited(service: DueService, on: str, *, step: Step = Step.INVITATION, out: bool = True) -> Reminded:
    year = int(on[:4]) if step is Step.YEARLY else 0
    return Reminded(service.piece, service.kind, service.starts_on, step, day(on), day(on) if out else None, year)


def on(
    as_of: str,
    *services: DueService,
    reminded: list[Reminded] | None = None,
    said: dict[int, Said] | None = None,
    mail: OwnersMail | None = None,
    works: bool = True,
) -> Decision:
    side = OwnerSide(services, reminded or [], said or {}, mail or OwnersMail())
    return decide(side, day(as_of), lambda _day: works)


def keys(decision: Decision) -> set[tuple[int, str, str]]:
    return {(one.service.piece, one.service.kind.value, one.step.value) for one in decision.reminders}


def test_an_overhaul_is_invited_60_days_before_it_is_due() -> None:
    assert invitation_day(overhaul("2026-05-17")) == day("2026-03-18")


def test_an_overhaul_is_never_invited_before_it_opens() -> None:
    assert invitation_day(overhaul("2026-05-17", opens="2026-04-20")) == day("2026-04-20")


def test_a_tightness_check_is_invited_when_it_opens() -> None:
    assert invitation_day(tightness("2026-03-02")) == day("2026-03-02")


def test_a_test_that_is_owed_is_invited_at_once() -> None:
    assert invitation_day(tightness(owed="2025-09-01")) == day("2025-09-01")


def test_nothing_goes_out_the_day_before() -> None:
    assert keys(on("2026-03-17", overhaul())) == set()
    assert keys(on("2026-03-18", overhaul())) == {(1, "overhaul", "invitation")}


def test_a_night_that_was_missed_loses_no_letter() -> None:
    assert keys(on("2026-07-01", overhaul())) == {(1, "overhaul", "invitation")}


def test_the_nudge_goes_42_days_after_the_invitation_went_out() -> None:
    before = [invited(overhaul(), "2026-03-18")]
    mail = OwnersMail(days=(day("2026-03-18"),))
    assert keys(on("2026-04-28", overhaul(), reminded=before, mail=mail)) == set()
    assert keys(on("2026-04-29", overhaul(), reminded=before, mail=mail)) == {(1, "overhaul", "nudge")}


def test_an_invitation_that_did_not_go_out_is_not_nudged() -> None:
    assert next_step(overhaul(), [invited(overhaul(), "2026-03-18", out=False)], None) is None


def test_the_last_letter_goes_when_the_overhaul_closes() -> None:
    both = [invited(overhaul(), "2026-03-18"), invited(overhaul(), "2026-04-29", step=Step.NUDGE)]
    assert keys(on("2027-05-16", overhaul(), reminded=both)) == set()
    assert keys(on("2027-05-17", overhaul(), reminded=both)) == {(1, "overhaul", "last")}


def test_the_last_letter_leaves_42_days_after_the_nudge_to_an_owner_whose_overhaul_closed_long_ago() -> None:
    closed = overhaul("2019-05-17", "2018-05-17", "2020-05-17")
    both = [invited(closed, "2026-03-18"), invited(closed, "2026-04-29", step=Step.NUDGE)]
    assert keys(on("2026-06-09", closed, reminded=both)) == set()
    assert keys(on("2026-06-10", closed, reminded=both)) == {(1, "overhaul", "last")}


def test_the_last_letter_does_not_travel_before_those_42_days() -> None:
    closed = overhaul("2019-05-17", "2018-05-17", "2020-05-17")
    both = [invited(closed, "2026-03-18"), invited(closed, "2026-04-29", step=Step.NUDGE)]
    other = overhaul("2026-07-30", piece=2)  # invited on 31 May
    assert keys(on("2026-06-01", closed, other, reminded=both)) == {(2, "overhaul", "invitation")}


def test_no_last_letter_without_a_nudge_or_to_somebody_who_had_it_done_elsewhere() -> None:
    first = [invited(overhaul(), "2026-03-18")]
    booked = {1: Said(AnswerChoice.BOOKED, day("2026-03-20"), day("2026-03-27"))}
    assert keys(on("2027-06-01", overhaul(), reminded=first, said=booked)) == set()
    both = [*first, invited(overhaul(), "2026-04-29", step=Step.NUDGE)]
    elsewhere = {1: Said(AnswerChoice.DONE_ELSEWHERE, day("2026-05-20"), day("2026-05-01"))}
    assert keys(on("2027-06-01", overhaul(), reminded=both, said=elsewhere)) == set()
    assert keys(on("2027-06-01", overhaul(), reminded=both, said=booked)) == {(1, "overhaul", "last")}


def test_nothing_follows_the_last_letter() -> None:
    steps = [(Step.INVITATION, "2026-03-18"), (Step.NUDGE, "2026-04-29"), (Step.LAST, "2027-05-17")]
    all_three = [invited(overhaul(), on_, step=step) for step, on_ in steps]
    assert keys(on("2030-01-07", overhaul(), reminded=all_three)) == set()


def test_a_check_that_is_not_done_is_spoken_of_every_year_after_it_was_due() -> None:
    check = tightness("2026-03-02")  # due on 2 April 2026
    gone = [invited(check, "2026-03-02"), invited(check, "2026-04-13", step=Step.NUDGE)]
    assert keys(on("2027-04-01", check, reminded=gone)) == set()
    for year in (2027, 2028, 2029):
        [one] = on(f"{year}-04-02", check, reminded=gone).reminders
        assert (one.step, one.year) == (Step.YEARLY, year)
        gone.append(invited(check, f"{year}-04-05", step=Step.YEARLY))
        assert keys(on(f"{year}-12-31", check, reminded=gone)) == set()


def test_a_yearly_letter_that_travelled_early_is_not_repeated_on_its_day() -> None:
    check = tightness("2026-03-02")
    gone = [invited(check, "2026-03-02"), invited(check, "2026-04-13", step=Step.NUDGE)]
    gone.append(invited(check, "2027-03-15", step=Step.YEARLY))
    assert keys(on("2027-06-01", check, reminded=gone)) == set()


def test_an_answer_stops_the_nudge_and_not_next_years_letter() -> None:
    check = tightness("2026-03-02")
    said = {1: Said(AnswerChoice.BOOKED, day("2026-03-10"), day("2026-03-20"))}
    gone = [invited(check, "2026-03-02")]
    assert keys(on("2027-04-01", check, reminded=gone, said=said)) == set()
    assert keys(on("2027-04-02", check, reminded=gone, said=said)) == {(1, "tightness", "yearly")}


def test_a_book_that_comes_long_overdue_pours_nothing_out() -> None:
    """The check was due in 2016: one invitation, its nudge, and then the year that comes round next."""
    check = DueService(1, "FH-1", TIGHTNESS, day("2015-04-02"), day("2016-03-02"), day("2016-04-02"), day("2016-07-02"))
    assert keys(on("2026-01-05", check)) == {(1, "tightness", "invitation")}
    gone = [invited(check, "2026-01-05"), invited(check, "2026-02-16", step=Step.NUDGE)]
    assert keys(on("2026-04-01", check, reminded=gone)) == set()
    assert keys(on("2026-04-02", check, reminded=gone)) == {(1, "tightness", "yearly")}


@pytest.mark.parametrize("choice", [AnswerChoice.BOOKED, AnswerChoice.DONE_ELSEWHERE])
def test_an_answer_since_the_invitation_stops_the_nudge(choice: AnswerChoice) -> None:
    said = {1: Said(choice, day("2026-03-20"), day("2026-03-27"))}
    before = [invited(overhaul(), "2026-03-18")]
    assert keys(on("2026-06-01", overhaul(), reminded=before, said=said)) == set()


def test_an_answer_to_an_earlier_letter_stops_nothing() -> None:
    said = {1: Said(AnswerChoice.DONE_ELSEWHERE, day("2019-06-01"), day("2019-05-30"))}
    before = [invited(overhaul(), "2026-03-18")]
    assert keys(on("2026-06-01", overhaul(), reminded=before, said=said)) == {(1, "overhaul", "nudge")}


def test_not_now_keeps_everything_back_until_its_day_and_no_longer() -> None:
    said = {1: Said(AnswerChoice.NOT_NOW, day("2026-03-20"), day("2026-09-01"))}
    before = [invited(overhaul(), "2026-03-18")]
    kept_back = on("2026-06-01", overhaul(), reminded=before, said=said)
    assert kept_back.not_written == (NotWritten("FH-1", Reason.WAITS_FOR_OWNER),)
    assert keys(kept_back) == set()
    assert keys(on("2026-09-01", overhaul(), reminded=before, said=said)) == {(1, "overhaul", "nudge")}


def test_a_piece_with_a_booked_visit_is_not_invited_before_that_day() -> None:
    said = {1: Said(AnswerChoice.BOOKED, day("2026-03-01"), day("2026-04-20"))}
    assert keys(on("2026-03-20", overhaul(), said=said)) == set()


def test_not_now_holds_against_a_letter_about_another_piece() -> None:
    """Y is invited on 21 April, within 21 days before the day that the owner gave for X."""
    said = {1: Said(AnswerChoice.NOT_NOW, day("2026-03-20"), day("2026-05-10"))}
    before = [invited(overhaul(), "2026-03-18")]
    other = overhaul("2026-06-20", piece=2)
    both = on("2026-04-21", overhaul(), other, reminded=before, said=said)
    assert keys(both) == {(2, "overhaul", "invitation")}
    assert both.reminders[0].service.piece == 2
    kept_back = on("2026-04-30", overhaul(), reminded=before, said=said)
    assert kept_back.not_written == (NotWritten("FH-1", Reason.WAITS_FOR_OWNER),)


def test_what_would_come_up_after_the_owners_day_travels_with_no_letter_before_it() -> None:
    said = {1: Said(AnswerChoice.NOT_NOW, day("2026-04-01"), day("2026-04-25"))}
    before = [invited(overhaul(), "2026-03-18")]  # the nudge: 29 April
    other = overhaul("2026-06-20", piece=2)
    assert keys(on("2026-04-21", overhaul(), other, reminded=before, said=said)) == {(2, "overhaul", "invitation")}
    assert len(keys(on("2026-04-25", overhaul(), other, reminded=before, said=said))) == 2


def test_a_booked_visit_holds_until_it_is_over() -> None:
    closed = overhaul("2024-05-17", "2023-05-17", "2025-05-17")
    both = [invited(closed, "2026-01-07"), invited(closed, "2026-02-18", step=Step.NUDGE)]
    said = {1: Said(AnswerChoice.BOOKED, day("2026-03-25"), day("2026-05-08"))}
    other = overhaul("2026-06-20", piece=2)
    assert keys(on("2026-04-21", closed, other, reminded=both, said=said)) == {(2, "overhaul", "invitation")}
    assert keys(on("2026-05-08", closed, reminded=both, said=said)) == set()
    assert keys(on("2026-05-09", closed, reminded=both, said=said)) == {(1, "overhaul", "last")}


def test_what_would_go_within_21_days_travels_with_what_goes_today() -> None:
    today, near, far = overhaul(piece=1), overhaul("2026-06-07", piece=2), overhaul("2026-06-08", piece=3)
    assert keys(on("2026-03-18", today, near, far)) == {(1, "overhaul", "invitation"), (2, "overhaul", "invitation")}


def test_what_is_near_starts_no_letter_of_its_own() -> None:
    assert keys(on("2026-03-17", overhaul(piece=1), overhaul("2026-06-07", piece=2))) == set()


def test_one_letter_in_28_days() -> None:
    mail = OwnersMail(days=(day("2026-02-19"),))
    too_soon = on("2026-03-18", overhaul(), mail=mail)
    assert too_soon.not_written == (NotWritten("FH-1", Reason.LETTER_NOT_LONG_AGO),)
    assert keys(on("2026-03-19", overhaul(), mail=mail)) == {(1, "overhaul", "invitation")}


def test_a_round_for_an_earlier_day_keeps_the_28_days_too() -> None:
    mail = OwnersMail(days=(day("2026-04-01"),))
    assert keys(on("2026-03-18", overhaul(), mail=mail)) == set()


def test_what_falls_due_joins_a_letter_that_still_waits() -> None:
    decision = on("2026-03-18", overhaul(), mail=OwnersMail(waiting=7))
    assert (decision.joins, keys(decision)) == (7, {(1, "overhaul", "invitation")})


def test_nothing_is_written_beside_a_letter_that_was_tried_already() -> None:
    decision = on("2026-03-18", overhaul(), mail=OwnersMail(on_its_way=True))
    assert decision.not_written == (NotWritten("FH-1", Reason.LETTER_ON_ITS_WAY),)


def test_nothing_goes_on_a_day_that_is_not_worked() -> None:
    decision = on("2026-03-18", overhaul(), works=False)
    assert decision.not_written == (NotWritten("FH-1", Reason.NOT_A_WORKING_DAY),)
    assert decision.reminders == ()


def test_the_overhaul_takes_the_tightness_check_along() -> None:
    assert keys(on("2026-03-18", overhaul(), tightness())) == {(1, "overhaul", "invitation")}


def test_a_piece_whose_overhaul_was_invited_gets_no_tightness_reminder() -> None:
    before = [invited(overhaul(), "2026-01-05"), invited(overhaul(), "2026-02-16", step=Step.NUDGE)]
    assert on("2026-03-18", overhaul(), tightness(), reminded=before) == Decision()


def test_an_overhaul_planned_within_90_days_absorbs_the_tightness_reminder() -> None:
    assert keys(on("2026-03-02", overhaul("2026-07-30"), tightness())) == set()  # invited on 31 May: 90 days
    assert keys(on("2026-03-02", overhaul("2026-07-31"), tightness())) == {(1, "tightness", "invitation")}


def test_the_overhaul_of_one_piece_absorbs_nothing_of_another() -> None:
    decision = on("2026-03-18", overhaul(piece=1), tightness(piece=2))
    assert keys(decision) == {(1, "overhaul", "invitation"), (2, "tightness", "invitation")}


def test_a_test_that_is_owed_does_not_wait_for_an_overhaul_of_next_month() -> None:
    decision = on("2026-02-10", overhaul(), tightness(owed="2026-02-01"))
    assert keys(decision) == {(1, "tightness", "invitation")}


def test_a_test_that_is_owed_brings_a_near_overhaul_forward_and_is_part_of_it() -> None:
    decision = on("2026-03-01", overhaul(), tightness(owed="2026-02-27"))
    assert keys(decision) == {(1, "overhaul", "invitation")}


def test_a_test_that_becomes_owed_after_its_invitation_gets_no_second_one() -> None:
    """The key is the interval's: the nudge and the yearly letter follow, from the day since which it is owed."""
    plain = tightness("2026-03-02")
    before = [invited(plain, "2026-03-02")]
    owed = tightness(owed="2026-03-20")
    assert keys(on("2026-03-31", owed, reminded=before)) == set()
    assert keys(on("2026-04-13", owed, reminded=before)) == {(1, "tightness", "nudge")}
    before.append(invited(plain, "2026-04-13", step=Step.NUDGE))
    assert keys(on("2027-03-19", owed, reminded=before)) == set()
    assert keys(on("2027-03-20", owed, reminded=before)) == {(1, "tightness", "yearly")}


def test_a_kind_that_is_owed_and_was_not_invited_yet_is_invited_at_once() -> None:
    assert keys(on("2025-09-01", tightness(owed="2025-09-01"))) == {(1, "tightness", "invitation")}


def test_an_overhaul_is_invited_on_its_planned_day_and_never_before_it_opens() -> None:
    planned = replace(overhaul(), invite_on=day("2026-01-12"))
    assert invitation_day(planned) == day("2026-01-12")
    assert invitation_day(replace(planned, invite_on=day("2025-05-17"))) == day("2025-05-17")
    assert invitation_day(replace(planned, invite_on=day("2024-01-12"))) == day("2026-03-18")
    assert invitation_day(replace(planned, invite_on=day("2026-09-14"))) == day("2026-09-14")
    assert invitation_day(replace(planned, owed_since=day("2025-06-02"))) == day("2025-06-02")


def test_a_plan_outside_the_window_of_now_is_no_plan() -> None:
    """The due date moved after the plan was made."""
    sooner = replace(overhaul("2026-06-01", "2025-06-01", "2027-06-01"), invite_on=day("2027-10-01"))
    assert invitation_day(replace(sooner, planned_on=day("2026-01-12"))) == day("2026-04-02")
    later = replace(overhaul("2027-05-17", "2026-05-17", "2028-05-17"), invite_on=day("2026-03-09"))
    assert invitation_day(replace(later, planned_on=day("2026-01-12"))) == day("2027-03-18")


def test_a_plan_made_when_the_overhaul_was_past_its_window_holds_for_a_year() -> None:
    """Levelling spreads those over the year from the day of the plan."""
    closed = overhaul("2024-05-17", "2023-05-17", "2025-05-17")
    planned = replace(closed, planned_on=day("2026-01-12"), invite_on=day("2026-12-18"))
    assert invitation_day(planned) == day("2026-12-18")
    assert invitation_day(replace(planned, invite_on=day("2027-02-01"))) == day("2024-03-18")
    assert invitation_day(replace(planned, planned_on=day("2025-01-13"))) == day("2024-03-18")


def test_an_overhaul_travels_with_nothing_before_it_opens() -> None:
    late = overhaul("2026-05-17", "2026-04-01")
    assert keys(on("2026-03-18", late, overhaul(piece=2))) == {(2, "overhaul", "invitation")}


def test_an_owed_test_goes_by_itself_where_the_overhaul_has_not_opened() -> None:
    late = overhaul("2026-05-17", "2026-04-01")
    assert keys(on("2026-03-18", late, tightness(owed="2026-03-17"))) == {(1, "tightness", "invitation")}


def test_a_piece_that_is_no_longer_the_owners_is_named_and_not_written_about() -> None:
    said = {1: Said(AnswerChoice.NO_LONGER_MINE, day("2025-01-01"))}
    decision = on("2026-03-18", overhaul(piece=1), overhaul(piece=2), said=said)
    assert keys(decision) == {(2, "overhaul", "invitation")}
    assert decision.not_written == (NotWritten("FH-1", Reason.NO_LONGER_THEIRS),)


@pytest.mark.parametrize(
    ("facts", "reason"),
    [
        ({}, None),
        ({"held": "workshop"}, Reason.IN_WORKSHOP),
        ({"held": "stolen", "letters": False}, Reason.STOLEN),
        ({"has_owner": False}, Reason.NO_OWNER),
        ({"letters": None}, Reason.NO_CONSENT),
        ({"letters": False, "email": ""}, Reason.NO_MORE_LETTERS),
        ({"has_ground": False, "email": ""}, Reason.NO_GROUND),
        ({"email": ""}, Reason.NO_EMAIL),
        ({"stopped": True}, Reason.ADDRESS_STOPPED),
    ],
)
def test_who_may_not_be_written_to(facts: dict[str, object], reason: Reason | None) -> None:
    usual = {
        "has_owner": True,
        "letters": True,
        "has_ground": True,
        "email": "ada@owners.example",
        "stopped": False,
        "held": "",
    }
    assert out_of_reach(**{**usual, **facts}) is reason  # type: ignore[arg-type]


def test_a_letter_handed_over_late_went_out_on_that_day() -> None:
    assert day_out(day("2026-03-18"), day("2026-03-21"), as_of=day("2026-06-01")) == day("2026-03-21")


def test_a_rehearsal_of_past_days_finds_each_letter_where_the_plan_had_it() -> None:
    handed_over = day("2026-11-25")
    assert day_out(day("2026-03-18"), handed_over, as_of=day("2026-04-29")) == day("2026-03-18")


def test_a_rehearsal_of_days_to_come_does_too() -> None:
    assert day_out(day("2027-03-18"), day("2026-11-25"), as_of=day("2027-04-29")) == day("2027-03-18")


def test_in_any_order_of_days_no_step_goes_out_before_its_time() -> None:
    first = day("2026-01-01")
    for offset in range(400):
        as_of = first + timedelta(days=offset)
        decision = on(as_of.isoformat(), overhaul())
        assert bool(decision.reminders) is (as_of >= day("2026-03-18"))
