"""What a round reads: who may have a letter to come, and all that decides about them."""

from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Exists, F, Q, QuerySet

from service_center.book.models import Owner
from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.calendars import zone_of_owner
from service_center.letters.models import Answer, Letter, PlannedInvitation, Reminder
from service_center.letters.queries.coming import ALIVE, room_to_work, selections, stopped
from service_center.letters.queries.grounds import has_ground
from service_center.letters.rules.deciding import NotWritten, OwnerSide, OwnersMail, out_of_reach
from service_center.letters.rules.steps import HOUSE_DAYS, DueService, Reminded, Said, StepDays, day_out
from service_center.letters.rules.words import AnswerChoice, LetterSort, LetterState, Step

ROWS_AT_ONCE = 5_000
NO_PLAN = (None, None)
ON_ITS_WAY = (LetterState.HANDING_OVER, LetterState.AT_THE_DOT, LetterState.HELD)


@dataclass(slots=True)
class OwnerBeforeRound:
    """One owner as a round finds them. `country` and `zone`, where they are not known, come from their first
    piece's boutique, the zone only where it is one of the country's."""

    owner: Owner
    country: str
    zone: ZoneInfo
    side: OwnerSide


def look_for_owners(
    as_of: date, beyond_reach: Callable[[NotWritten], object], days: StepDays = HOUSE_DAYS
) -> list[int]:
    """The ids of owners within reach for whom a reminder may go out, ascending. A statement a selection.

    `beyond_reach` is told of every piece for which one would go out, and about which nobody may be written to.
    """
    is_stopped = Exists(stopped("piece__owner__email"))
    ground = has_ground("piece__owner")
    fields = (
        "piece__serial", "held", "piece__owner_id", "piece__owner__letters", "piece__owner__email", "stopped", "ground",
    )  # fmt: skip
    found: set[int] = set()
    with room_to_work():
        for selection in selections(as_of, days):
            rows = selection.annotate(stopped=is_stopped, ground=ground).order_by().values_list(*fields)
            for serial, held, owner, letters, email, bounced, grounded in rows.iterator(ROWS_AT_ONCE):
                reason = out_of_reach(
                    has_owner=owner is not None,
                    letters=letters,
                    has_ground=grounded,
                    email=email or "",
                    stopped=bounced,
                    held=held,
                )
                if reason:
                    beyond_reach(NotWritten(serial, reason))
                elif owner:
                    found.add(owner)
    return sorted(found)


@dataclass(slots=True)
class _Gathered:
    services: list[DueService] = field(default_factory=list)
    reminded: list[Reminded] = field(default_factory=list)
    said: dict[int, Said] = field(default_factory=dict)
    days: list[date] = field(default_factory=list)
    waiting: int | None = None
    on_its_way: bool = False
    country: str = ""
    zone: str = ""

    def side(self) -> OwnerSide:
        mail = OwnersMail(tuple(self.days), self.waiting, self.on_its_way)
        return OwnerSide(self.services, self.reminded, self.said, mail)


def held_for_writing(owner_ids: Collection[int]) -> QuerySet[Owner]:
    """These owners whom letters may reach, in order of id, their rows held until the transaction ends.

    What changed between the selection and this moment counts: whoever stopped letters meanwhile is out of reach.
    """
    return within_reach(owner_ids).select_for_update(no_key=True)


def within_reach(owner_ids: Collection[int]) -> QuerySet[Owner]:
    """These owners whom letters may reach, in order of id."""
    return Owner.objects.filter(pk__in=owner_ids, letters=True).exclude(email="").order_by("pk")


def owners_before_round(rows: QuerySet[Owner], as_of: date, days: StepDays = HOUSE_DAYS) -> list[OwnerBeforeRound]:
    """All that decides about some owners, in their order. Six statements, however many."""
    owners = list(rows)
    found = {owner.pk: _Gathered() for owner in owners}
    _gather_services(found)
    zones = {owner.pk: zone_of_owner(owner.time_zone, owner.country, found[owner.pk].zone, as_of) for owner in owners}
    _gather_reminded(found, zones, as_of)
    _gather_answers(found, as_of)
    _gather_mail(found, zones, as_of, days)
    return [
        OwnerBeforeRound(owner, owner.country or found[owner.pk].country, zones[owner.pk], found[owner.pk].side())
        for owner in owners
    ]


def mail_beside(letter: Letter, as_of: date, days: StepDays = HOUSE_DAYS) -> OwnersMail:
    """The other letters of a letter's owner, as a round of a day would find them. Three statements."""
    found = {letter.owner_id: _Gathered()}
    _gather_services(found)
    own, country, boutique = letter.owner.time_zone, letter.owner.country, found[letter.owner_id].zone
    zones = {letter.owner_id: zone_of_owner(own, country, boutique, as_of)}
    _gather_mail(found, zones, as_of, days, without=letter.pk)
    return found[letter.owner_id].side().mail


def _gather_services(found: dict[int, _Gathered]) -> None:
    plans = {
        (piece, starts_on): (invite_on, planned_at.date())
        for piece, starts_on, invite_on, planned_at in PlannedInvitation.objects.filter(
            piece__owner__in=found
        ).values_list("piece_id", "starts_on", "invite_on", "planned_at")
    }
    rows = DueDate.objects.filter(piece__owner__in=found, held="", starts_on__isnull=False).order_by("piece__serial")
    for row in rows.select_related("piece__boutique"):
        of_owner = found[row.piece.owner_id or 0]
        boutique = row.piece.boutique
        if boutique is not None:
            of_owner.country = of_owner.country or boutique.country
            of_owner.zone = of_owner.zone or boutique.time_zone
        if row.starts_on is None or row.opens_on is None or row.due_on is None or row.closes_on is None:
            continue
        kind = ServiceKind(row.kind)
        invite_on, planned_on = plans.get((row.piece_id, row.starts_on), NO_PLAN)
        of_owner.services.append(
            DueService(
                piece=row.piece_id,
                serial=row.piece.serial,
                kind=kind,
                starts_on=row.starts_on,
                opens_on=row.opens_on,
                due_on=row.due_on,
                closes_on=row.closes_on,
                owed_since=row.owed_since,
                invite_on=invite_on if kind is ServiceKind.OVERHAUL else None,
                planned_on=planned_on,
            )
        )


def _gather_reminded(found: dict[int, _Gathered], zones: dict[int, ZoneInfo], as_of: date) -> None:
    rows = Reminder.objects.filter(piece__owner__in=found, **ALIVE).select_related("letter")
    for row in rows.annotate(of_owner=F("piece__owner_id")):
        letter = row.letter
        sent_on = letter.sent_at.astimezone(zones[row.of_owner]).date() if letter.sent_at else None
        found[row.of_owner].reminded.append(
            Reminded(
                piece=row.piece_id,
                kind=ServiceKind(row.kind),
                starts_on=row.starts_on,
                step=Step(row.step),
                planned_on=letter.planned_on,
                went_out=day_out(letter.planned_on, sent_on, as_of) if letter.state == LetterState.SENT else None,
                year=row.year,
            )
        )


def _gather_answers(found: dict[int, _Gathered], as_of: date) -> None:
    rows = Answer.objects.filter(owner__in=found, piece__isnull=False, said_on__lte=as_of).order_by("said_on", "pk")
    for owner, piece, choice, said_on, day in rows.values_list("owner_id", "piece_id", "choice", "said_on", "day"):
        if piece is not None:
            found[owner].said[piece] = Said(AnswerChoice(choice), said_on, day)


def _gather_mail(
    found: dict[int, _Gathered], zones: dict[int, ZoneInfo], as_of: date, days: StepDays, without: int = 0
) -> None:
    since = as_of - timedelta(days=days.between_letters)
    moment = datetime.combine(since - timedelta(days=1), time(0), UTC)
    lately = Q(planned_on__gt=since) | Q(sent_at__gt=moment) | Q(dot_at__gt=moment)
    still_here = Q(state__in=[LetterState.WAITING, *ON_ITS_WAY])
    rows = Letter.objects.filter(lately | still_here, owner__in=found, sort=LetterSort.INVITATION)
    # One that was refused today may be tried again today, and an owner has one letter a day.
    over = Q(state=LetterState.ENDED) | Q(state=LetterState.REFUSED) & ~Q(planned_on=as_of)
    for letter in rows.exclude(over).exclude(pk=without).order_by("pk"):
        of_owner = found[letter.owner_id]
        if letter.state == LetterState.WAITING and letter.attempt == 0:
            of_owner.waiting = letter.pk
        elif letter.state in (LetterState.WAITING, LetterState.REFUSED, *ON_ITS_WAY):
            of_owner.on_its_way = True
        else:
            out = letter.sent_at or letter.dot_at
            out_on = out.astimezone(zones[letter.owner_id]).date() if out else None
            of_owner.days.append(day_out(letter.planned_on, out_on, as_of) or letter.planned_on)
