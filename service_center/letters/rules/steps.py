"""Which letter comes next about one due date, and on which day (design/letters.md, steps)."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from service_center.book.rules import ServiceKind
from service_center.intervals.rules import add_months
from service_center.letters.rules.words import AnswerChoice, Step

MONTHS_A_YEAR = 12


@dataclass(frozen=True, slots=True)
class StepDays:
    """The house's days. These are the defaults of design/letters.md."""

    invite_before_due: int = 60
    nudge_after: int = 42
    last_after: int = 42
    travel_together: int = 21
    between_letters: int = 28
    absorb_within: int = 90
    catch_up: int = 52 * 7


HOUSE_DAYS = StepDays()


@dataclass(frozen=True, slots=True)
class DueService:
    """One kind of service of one piece that has a start.

    `owed_since` None: not owed. `invite_on`: the day that levelling planned for the invitation, if it did, and
    `planned_on` the day on which it did.
    """

    piece: int
    serial: str
    kind: ServiceKind
    starts_on: date
    opens_on: date
    due_on: date
    closes_on: date
    owed_since: date | None = None
    invite_on: date | None = None
    planned_on: date | None = None


@dataclass(frozen=True, slots=True)
class Reminded:
    """One reminder that lives: `went_out` None while its letter has not left the house for certain.

    `year`: which year a yearly one is of; 0 for the other steps.
    """

    piece: int
    kind: ServiceKind
    starts_on: date
    step: Step
    planned_on: date
    went_out: date | None
    year: int = 0


@dataclass(frozen=True, slots=True)
class Said:
    """What the owner said of a piece. `day`: until when (not now), or for when (booked)."""

    choice: AnswerChoice
    said_on: date
    day: date | None = None


@dataclass(frozen=True, slots=True)
class Planned:
    """The next reminder about one due date, and the day on which it would go out.

    `asked_back_from` is the day it would have gone out but for the owner's word. `year`: as in `Reminded`.
    `never_before`: it travels with no earlier letter before that day.
    """

    service: DueService
    step: Step
    goes_out_on: date
    year: int = 0
    never_before: date = date.min
    asked_back_from: date | None = None

    @property
    def starts_on(self) -> date:
        """The start of the interval, which the reminder's key carries."""
        return self.service.starts_on


def invitation_day(service: DueService, days: StepDays = HOUSE_DAYS) -> date:
    """Owed: at once. Overhaul: the planned day, otherwise some days before due; never before it opens. Tightness: opens.

    A plan outside the window of the due date as it is now is no plan.
    """
    if service.owed_since is not None:
        return service.owed_since
    if service.kind is ServiceKind.TIGHTNESS:
        return service.opens_on
    if service.invite_on is not None and _within_window(service, service.invite_on, days):
        return service.invite_on
    return max(service.opens_on, service.due_on - timedelta(days=days.invite_before_due))


def _within_window(service: DueService, invite_on: date, days: StepDays) -> bool:
    """Whether a plan is one still: due dates move after it was made.

    What had closed by then was planned within a year from that day, as levelling spreads what is to be caught up.
    """
    closes_on = service.closes_on
    if service.planned_on is not None and closes_on <= service.planned_on:
        closes_on = service.planned_on + timedelta(days=days.catch_up)
    return service.opens_on <= invite_on <= closes_on


def next_step(
    service: DueService, reminded: Sequence[Reminded], said: Said | None, days: StepDays = HOUSE_DAYS
) -> Planned | None:
    """The next reminder about a service, or None when nothing more is to come.

    `reminded` are the living reminders of the same piece and kind; `said` is the owner's latest word on the piece.
    One step at a time: nothing follows a letter that has not left the house. "Not now" keeps everything back until its
    day, a booked visit until it is over.
    """
    steps = [one for one in reminded if one.starts_on == service.starts_on]
    if any(one.went_out is None for one in steps):
        return None
    planned = _next_of_interval(service, steps, said, days)
    return _kept_back(planned, said) if planned else None


def _next_of_interval(
    service: DueService, steps: Sequence[Reminded], said: Said | None, days: StepDays
) -> Planned | None:
    out = {one.step: one.went_out for one in steps if one.went_out is not None}
    invited, nudged = out.get(Step.INVITATION), out.get(Step.NUDGE)
    if invited is None:
        opens_on = service.opens_on if service.kind is ServiceKind.OVERHAUL else date.min
        return Planned(service, Step.INVITATION, invitation_day(service, days), never_before=opens_on)
    if nudged is None and Step.YEARLY not in out and not _answered(said, since=invited):
        return Planned(service, Step.NUDGE, invited + timedelta(days=days.nudge_after))
    if service.kind is ServiceKind.TIGHTNESS:
        return _yearly(service, after=max(out.values()), last=max(one.year for one in steps))
    if nudged is None or Step.LAST in out or _done_elsewhere(said, since=invited):
        return None
    earliest = nudged + timedelta(days=days.last_after)
    return Planned(service, Step.LAST, max(service.closes_on, earliest), never_before=earliest)


def _answered(said: Said | None, *, since: date) -> bool:
    """A "not now" that has run out is an answer no longer; one that runs keeps the letter back."""
    return said is not None and said.said_on >= since and said.choice is not AnswerChoice.NOT_NOW


def _done_elsewhere(said: Said | None, *, since: date) -> bool:
    return said is not None and said.said_on >= since and said.choice is AnswerChoice.DONE_ELSEWHERE


def _yearly(service: DueService, *, after: date, last: int) -> Planned:
    """The first whole year past due that lies behind the latest letter about it, and behind the last year spoken of.

    Years that passed before that letter are said with it: a book that comes to us long overdue pours nothing out.
    """
    years = max(1, after.year - service.due_on.year)
    while (day := add_months(service.due_on, MONTHS_A_YEAR * years)) <= after or day.year <= last:
        years += 1
    return Planned(service, Step.YEARLY, day, day.year)


def _kept_back(planned: Planned, said: Said | None) -> Planned:
    if said is None or said.day is None or said.choice not in (AnswerChoice.NOT_NOW, AnswerChoice.BOOKED):
        return planned
    # On the day of a visit its letter would leave before the owner arrives.
    until = said.day if said.choice is AnswerChoice.NOT_NOW else said.day + timedelta(days=1)
    kept = replace(planned, never_before=max(planned.never_before, until))
    if until <= planned.goes_out_on:
        return kept
    return replace(kept, goes_out_on=until, asked_back_from=planned.goes_out_on)


def keeps_back(said: Said, on: date) -> bool:
    """Whether an owner's word keeps back a letter that was written before it was said: for good, or until its day."""
    if said.choice in (AnswerChoice.NOT_NOW, AnswerChoice.BOOKED):
        return said.day is not None and said.day > on
    return said.choice in (AnswerChoice.DONE_ELSEWHERE, AnswerChoice.NO_LONGER_MINE)


def day_out(planned_on: date, sent_on: date | None, as_of: date) -> date | None:
    """The day a letter went out, as the world stands on `as_of`; None while it has not.

    A letter that was handed over late went out on that day. One handed over only after `as_of` is taken by its
    planned day: whoever works through past days (a rehearsal, a test) finds each letter where the plan had it.
    """
    if sent_on is None:
        return None
    latest = max(planned_on, sent_on)
    return latest if latest <= as_of else planned_on
