"""What goes to one owner on one day: one letter, or the reason why not (design/letters.md, one letter for one owner)."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from service_center.book.rules import ServiceKind
from service_center.letters.rules.steps import (
    HOUSE_DAYS,
    DueService,
    Planned,
    Reminded,
    Said,
    StepDays,
    next_step,
)
from service_center.letters.rules.words import AnswerChoice, Step


class Reason(StrEnum):
    """Why a reminder that would go out today was not written."""

    NO_OWNER = "no_owner"
    NO_CONSENT = "no_consent"  # nobody asked, or no answer is known
    NO_GROUND = "no_ground"  # they want letters, but nobody wrote down on which ground they may have them
    NO_MORE_LETTERS = "no_more_letters"
    NO_EMAIL = "no_email"
    ADDRESS_STOPPED = "address_stopped"
    LOST = "held_lost"
    STOLEN = "held_stolen"
    RETIRED = "held_retired"
    IN_WORKSHOP = "held_workshop"
    NO_LONGER_THEIRS = "no_longer_mine"
    WAITS_FOR_OWNER = "not_now"
    NOT_A_WORKING_DAY = "not_a_working_day"
    LETTER_NOT_LONG_AGO = "letter_not_long_ago"
    LETTER_ON_ITS_WAY = "letter_on_its_way"


@dataclass(frozen=True, slots=True)
class OwnersMail:
    """The letters of one owner: days of those that count for the pause, and one that may still take reminders along.

    `on_its_way`: a letter that was tried before, or that the desk holds; nothing is written beside it.
    """

    days: tuple[date, ...] = ()
    waiting: int | None = None
    on_its_way: bool = False


@dataclass(frozen=True, slots=True)
class OwnerSide:
    """All that decides about one owner whom letters reach: pieces that nobody holds, what went out, what they said."""

    services: Sequence[DueService]
    reminded: Sequence[Reminded]
    said: dict[int, Said]
    mail: OwnersMail


@dataclass(frozen=True, slots=True)
class NotWritten:
    """One piece for which something would go out today, and why it does not."""

    serial: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class Decision:
    """`reminders` travel in one letter: a new one, or the one that waits already (`joins`, its id)."""

    reminders: tuple[Planned, ...] = ()
    joins: int | None = None
    not_written: tuple[NotWritten, ...] = ()

    def left_out(self, reason: Reason, as_of: date) -> "Decision":
        """The same decision with nothing to be written, and a reason for what would have gone that day."""
        today = [planned for planned in self.reminders if planned.goes_out_on <= as_of]
        return Decision(not_written=(*self.not_written, *(NotWritten(one.service.serial, reason) for one in today)))


def out_of_reach(
    *, has_owner: bool, letters: bool | None, has_ground: bool, email: str, stopped: bool, held: str
) -> Reason | None:
    """Why no letter may be written about a piece, whatever is due; None where one may."""
    if held:
        return Reason(f"held_{held}")
    if not has_owner:
        return Reason.NO_OWNER
    if letters is not True:
        return Reason.NO_MORE_LETTERS if letters is False else Reason.NO_CONSENT
    if not has_ground:
        return Reason.NO_GROUND
    if not email:
        return Reason.NO_EMAIL
    return Reason.ADDRESS_STOPPED if stopped else None


def decide(
    owner: OwnerSide, as_of: date, is_working_day: Callable[[date], bool], days: StepDays = HOUSE_DAYS
) -> Decision:
    """One owner's letter of one day. `is_working_day` is that of the owner's country."""
    reminded: dict[tuple[int, ServiceKind], list[Reminded]] = defaultdict(list)
    for one in owner.reminded:
        reminded[one.piece, one.kind].append(one)
    coming: list[Planned] = []
    not_written: list[NotWritten] = []
    for service in owner.services:
        said = owner.said.get(service.piece)
        planned = next_step(service, reminded[service.piece, service.kind], said, days)
        if planned is None:
            continue
        if said is not None and said.choice is AnswerChoice.NO_LONGER_MINE:
            if planned.goes_out_on <= as_of:
                not_written.append(NotWritten(service.serial, Reason.NO_LONGER_THEIRS))
            continue
        coming.append(planned)
    coming = _without_absorbed(coming, owner, reminded, as_of, days)
    not_written += _kept_back_by_owners(coming, as_of)
    today = [planned for planned in coming if planned.goes_out_on <= as_of]
    if not today:
        return Decision(not_written=tuple(not_written))
    hindrance = _hindrance(owner.mail, as_of, is_working_day, days)
    if hindrance:
        not_written += [NotWritten(planned.service.serial, hindrance) for planned in today]
        return Decision(not_written=tuple(not_written))
    until = as_of + timedelta(days=days.travel_together)
    travelling = tuple(planned for planned in coming if planned.goes_out_on <= until and planned.never_before <= as_of)
    return Decision(travelling, owner.mail.waiting, tuple(not_written))


def _without_absorbed(
    coming: list[Planned],
    owner: OwnerSide,
    reminded: dict[tuple[int, ServiceKind], list[Reminded]],
    as_of: date,
    days: StepDays,
) -> list[Planned]:
    """The overhaul includes the test: no separate tightness reminder where the overhaul is invited or soon will be.

    A test that is owed does not wait for the overhaul's letter: it takes along one that is near enough to travel,
    and goes by itself where there is none.
    """
    invited = _invited_overhauls(owner.services, reminded)
    overhauls = {planned.service.piece: planned for planned in coming if planned.service.kind is ServiceKind.OVERHAUL}
    kept = []
    for planned in coming:
        service, overhaul = planned.service, overhauls.get(planned.service.piece)
        if service.kind is not ServiceKind.TIGHTNESS:
            continue
        within = days.travel_together if service.owed_since else days.absorb_within
        if service.piece in invited:
            continue
        if (
            overhaul is None
            or overhaul.goes_out_on > as_of + timedelta(days=within)
            or (service.owed_since and overhaul.never_before > as_of)
        ):
            kept.append(planned)
        elif service.owed_since:
            day = min(overhaul.goes_out_on, planned.goes_out_on)
            overhauls[service.piece] = replace(overhaul, goes_out_on=day)
    return [*overhauls.values(), *kept]


def _invited_overhauls(
    services: Sequence[DueService], reminded: dict[tuple[int, ServiceKind], list[Reminded]]
) -> set[int]:
    return {
        service.piece
        for service in services
        if service.kind is ServiceKind.OVERHAUL
        and any(
            one.step is Step.INVITATION and one.starts_on == service.starts_on
            for one in reminded[service.piece, service.kind]
        )
    }


def _kept_back_by_owners(coming: list[Planned], as_of: date) -> list[NotWritten]:
    return [
        NotWritten(planned.service.serial, Reason.WAITS_FOR_OWNER)
        for planned in coming
        if planned.asked_back_from is not None and planned.asked_back_from <= as_of < planned.goes_out_on
    ]


def too_near(mail: OwnersMail, as_of: date, days: StepDays = HOUSE_DAYS) -> Reason | None:
    """Why a letter that was written before may not go now, by the other letters of its owner; None where it may."""
    if mail.waiting is not None:
        return Reason.LETTER_ON_ITS_WAY
    return _hindrance(mail, as_of, lambda _day: True, days)


def _hindrance(mail: OwnersMail, as_of: date, is_working_day: Callable[[date], bool], days: StepDays) -> Reason | None:
    if not is_working_day(as_of):
        return Reason.NOT_A_WORKING_DAY
    if mail.waiting is not None:
        return None
    if mail.on_its_way:
        return Reason.LETTER_ON_ITS_WAY
    # Either way in time: a round for an earlier day must not put two letters within the pause.
    if any(abs((as_of - day).days) < days.between_letters for day in mail.days):
        return Reason.LETTER_NOT_LONG_AGO
    return None
