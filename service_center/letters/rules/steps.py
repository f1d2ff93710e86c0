"""Which letter comes next about one due date, and on which day (design/letters.md, steps)."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from service_center.book.rules import ServiceKind
from service_center.letters.rules.words import AnswerChoice, Step


@dataclass(frozen=True, slots=True)
class StepDays:
    """The house's days. These are the defaults of design/letters.md."""

    invite_before_due: int = 60
    nudge_after: int = 42
    travel_together: int = 21
    between_letters: int = 28
    absorb_within: int = 90


HOUSE_DAYS = StepDays()


@dataclass(frozen=True, slots=True)
class DueService:
    """One kind of service of one piece that has a start. `owed_since` None: not owed."""

    piece: int
    serial: str
    kind: ServiceKind
    starts_on: date
    opens_on: date
    due_on: date
    owed_since: date | None = None


@dataclass(frozen=True, slots=True)
class Reminded:
    """One reminder that lives: `went_out` None while its letter has not left the house for certain."""

    piece: int
    kind: ServiceKind
    starts_on: date
    step: Step
    planned_on: date
    went_out: date | None


@dataclass(frozen=True, slots=True)
class Said:
    """What the owner said of a piece. `day`: until when (not now), or for when (booked)."""

    choice: AnswerChoice
    said_on: date
    day: date | None = None


@dataclass(frozen=True, slots=True)
class Planned:
    """The next reminder about one due date, and the day on which it would go out.

    `asked_back_from` is the day it would have gone out but for the owner's word.
    """

    service: DueService
    starts_on: date
    step: Step
    goes_out_on: date
    asked_back_from: date | None = None


def invitation_day(service: DueService, days: StepDays = HOUSE_DAYS) -> date:
    """Owed: at once. Overhaul: some days before due, never before it opens. Tightness: when it opens."""
    if service.owed_since is not None:
        return service.owed_since
    if service.kind is ServiceKind.TIGHTNESS:
        return service.opens_on
    return max(service.opens_on, service.due_on - timedelta(days=days.invite_before_due))


def interval_key(service: DueService, reminded: Sequence[Reminded]) -> date:
    """The start that a reminder's key carries: that of the interval.

    A test that became owed after the interval's own invitation is a new matter, counted from the day it is owed.
    """
    if service.owed_since is None:
        return service.starts_on
    earlier = any(
        one.step is Step.INVITATION and one.starts_on == service.starts_on and one.planned_on < service.owed_since
        for one in reminded
    )
    return service.owed_since if earlier else service.starts_on


def next_step(
    service: DueService, reminded: Sequence[Reminded], said: Said | None, days: StepDays = HOUSE_DAYS
) -> Planned | None:
    """The next reminder about a service, or None when nothing more is to come.

    `reminded` are the living reminders of the same piece and kind; `said` is the owner's latest word on the piece.
    An answer since the invitation stops the nudge; "not now" and a booked visit keep everything back until their day,
    and a "not now" that has run out is an answer no longer.
    """
    key = interval_key(service, reminded)
    steps = {one.step: one for one in reminded if one.starts_on == key}
    invitation = steps.get(Step.INVITATION)
    if invitation is None:
        return _kept_back(Planned(service, key, Step.INVITATION, invitation_day(service, days)), said)
    if invitation.went_out is None or Step.NUDGE in steps:
        return None
    answered = said is not None and said.said_on >= invitation.went_out
    if answered and said is not None and said.choice is not AnswerChoice.NOT_NOW:
        return None
    day = invitation.went_out + timedelta(days=days.nudge_after)
    return _kept_back(Planned(service, key, Step.NUDGE, day), said)


def _kept_back(planned: Planned, said: Said | None) -> Planned:
    if said is None or said.day is None or said.choice not in (AnswerChoice.NOT_NOW, AnswerChoice.BOOKED):
        return planned
    if said.day <= planned.goes_out_on:
        return planned
    return replace(planned, goes_out_on=said.day, asked_back_from=planned.goes_out_on)


def day_out(planned_on: date, sent_on: date | None, as_of: date) -> date | None:
    """The day a letter went out, as the world stands on `as_of`; None while it has not.

    A letter that was handed over late went out on that day. One handed over only after `as_of` is taken by its
    planned day: whoever works through past days (a rehearsal, a test) finds each letter where the plan had it.
    """
    if sent_on is None:
        return None
    latest = max(planned_on, sent_on)
    return latest if latest <= as_of else planned_on
