"""What an owner sees behind a letter's link: the pieces and services of that letter, and what they answered."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Exists, F, OuterRef, Q, QuerySet

from service_center.book.models import Boutique, Custody, HistoryEntry, Owner, Piece, PostalAddress
from service_center.book.rules import DoneBy, Place, ServiceKind
from service_center.intake.models import DropOff
from service_center.intake.queries import handed_back
from service_center.intake.visits.queries import with_opening_hours
from service_center.intervals.queries import facts_of, house_rules
from service_center.intervals.rules import Due, due_dates
from service_center.letters.calendars import zone_of
from service_center.letters.models import Answer, Letter, OrderWord, OwnerLink, Reminder
from service_center.letters.rules.words import AnswerChoice, LetterSort, LetterState
from service_center.owner_pages.models import EmailChange, Notice, OwnerRequest
from service_center.owner_pages.rules import NoticeKind, OwnTime, RequestKind, RequestState, own_time


@dataclass(frozen=True, slots=True)
class PieceAsked:
    """One piece of a letter. `services` are those it still asks about: none once they were done, or while it is held."""

    piece: Piece
    services: tuple[Due, ...]
    answer: Answer | None

    @property
    def starts_on(self) -> date | None:
        """The day the latest of its intervals counts from."""
        return max((due.start.on for due in self.services if due.start), default=None)

    @property
    def includes_overhaul(self) -> bool:
        """Whether the letter asks for the whole service, which ends with a tightness test."""
        return any(due.kind is ServiceKind.OVERHAUL for due in self.services)


def pieces_of(letter: Letter, as_of: date) -> list[PieceAsked]:
    """The letter's pieces that are still its owner's, in order of serial. As many statements for one as for twenty.

    A service stands as long as the interval that the letter spoke of runs and nobody holds the piece.
    """
    went_out = letter.reminders.filter(ended_on=None, piece__owner=letter.owner_id)
    reminders = went_out.select_related("piece__boutique")
    asked: dict[Piece, list[Reminder]] = defaultdict(list)
    for reminder in reminders.order_by("piece__serial", "kind"):
        asked[reminder.piece].append(reminder)
    facts = facts_of([piece.pk for piece in asked])
    rules = house_rules()
    answers = _answers_since(letter, list(asked))
    found = []
    for piece, of_piece in asked.items():
        dues = due_dates(facts[piece.pk], rules, as_of, shelf_months=settings.SHELF_MONTHS)
        running = tuple(due for due in dues if _stands(due, of_piece))
        found.append(PieceAsked(piece, running, answers.get(piece.pk)))
    return found


def answer_standing(letter: Letter, piece: Piece) -> Answer | None:
    """The owner's latest answer about a piece since the letter was written."""
    return _answers_since(letter, [piece]).get(piece.pk)


def boutiques_for(owner: Owner, pieces: Iterable[PieceAsked]) -> list[Boutique]:
    """Where an owner may bring pieces: boutiques of their country and those that sold the pieces.

    All of them where the house has none in their country, or does not know it: as letters say (`composing.sentences.where`).
    """
    sold_them = {of.piece.boutique_id for of in pieces}
    known = list(Boutique.objects.order_by("name", "code"))
    near = {one.pk for one in known if one.country and one.country == owner.country}
    return [one for one in known if one.pk in near or one.pk in sold_them] if near else known


@dataclass(frozen=True, slots=True)
class Receiving:
    """Boutiques that keep opening hours, where a visit is a place at an hour (`by_hour`).

    Only where none of an owner's boutiques does, those that take pieces in on a day (`by_day`).
    """

    by_hour: list[Boutique]
    by_day: list[Boutique]


def who_receives(owner: Owner, pieces: Iterable[PieceAsked]) -> Receiving:
    """The boutiques an owner may bring pieces to, by how they receive. Two statements."""
    boutiques = boutiques_for(owner, pieces)
    by_hour = with_opening_hours(boutiques)
    return Receiving(by_hour, [] if by_hour else boutiques)


def letter_pieces(letter: Letter) -> QuerySet[Piece]:
    """The letter's pieces that are still its owner's: what its link may tell of, and nothing else."""
    asked = letter.reminders.filter(ended_on=None).values("piece")
    told = OrderWord.objects.filter(letter=letter).values("piece")
    pieces = Piece.objects.filter(Q(pk__in=asked) | Q(pk__in=told), owner=letter.owner_id)
    return pieces.select_related("model__calibre", "boutique")


def changed_hands(letter: Letter) -> int:
    """How many pieces of the letter are its owner's no more in the book. One statement."""
    asked = letter.reminders.filter(ended_on=None).values("piece")
    told = OrderWord.objects.filter(letter=letter).values("piece")
    return Piece.objects.filter(Q(pk__in=asked) | Q(pk__in=told)).exclude(owner=letter.owner_id).count()


def not_given_back(drop_offs: QuerySet[DropOff]) -> DropOff | None:
    """The drop-off by which a piece is in the house now. One statement."""
    return drop_offs.filter(~handed_back()).first()


def drop_offs_of(owner: Owner, pieces: Collection[Piece]) -> QuerySet[DropOff]:
    """What an owner themselves brought of some pieces, the latest first; never another owner's."""
    rows = DropOff.objects.filter(owner=owner, piece__in=pieces).select_related("boutique", "owner", "sheet")
    return rows.select_related("piece__model__calibre").order_by("-taken_on", "-pk")


def work_on(pieces: Collection[Piece]) -> dict[int, list[HistoryEntry]]:
    """What was done to pieces and still counts: no entry that a later one corrects, none that only strikes another.

    By piece, the latest first. One statement.
    """
    struck = {"done_by": DoneBy.OUTSIDE, "accepted": False, "case_opened": False}
    rows = HistoryEntry.objects.filter(piece__in=pieces, corrections=None).exclude(
        voids__kind=F("kind"), voids__done_on=F("done_on"), **struck
    )
    found: dict[int, list[HistoryEntry]] = defaultdict(list)
    for entry in rows.order_by("-done_on", "-pk"):
        found[entry.piece_id].append(entry)
    return found


def postal_address_of(owner: Owner) -> str:
    """The lines of an owner's envelope; empty where none is known. One statement."""
    return PostalAddress.objects.filter(owner=owner).values_list("lines", flat=True).first() or ""


def email_change_of(owner: Owner, now: datetime) -> EmailChange | None:
    """The e-mail address that an owner gave and has not confirmed yet. One statement."""
    waiting = trusted_changes().filter(owner=owner, confirmed_at=None, withdrawn_at=None, expires_at__gt=now)
    return waiting.first()


def confirm_mail_of(change: EmailChange) -> LetterState | None:
    """What became of the mail to a new address. One statement."""
    mail = Notice.objects.filter(change=change, kind=NoticeKind.CONFIRM).values_list("state", flat=True).first()
    return LetterState(mail) if mail else None


def trusted_changes() -> QuerySet[EmailChange]:
    """E-mail addresses given on the page of a letter that, as far as the desk knows, reached the right hands.

    Where the desk withdrew the letter's links, what a stranger asked for behind them must not count later.
    """
    withdrawn = OwnerLink.objects.filter(letter=OuterRef("letter"), withdrawn_at__isnull=False)
    return EmailChange.objects.filter(~Exists(withdrawn))


def open_request(owner: Owner, kind: RequestKind) -> OwnerRequest | None:
    """What an owner asked and nobody has decided yet. One statement."""
    return OwnerRequest.objects.filter(owner=owner, kind=kind, state=RequestState.OPEN).first()


def requests_of(owner: Owner) -> list[OwnerRequest]:
    """All that an owner asked, the latest first. One statement."""
    return list(OwnerRequest.objects.filter(owner=owner).order_by("-asked_at", "-pk"))


def own_times(owner: Owner, pieces: Collection[Piece]) -> dict[int, OwnTime]:
    """When each of some pieces was this owner's, as far as drop-offs, letters and answers tell. Four statements.

    A stay is whole whose it was who brought the piece, to the day on which it was handed back.
    """
    records: dict[int, list[tuple[date, int]]] = defaultdict(list)
    taken = list(DropOff.objects.filter(piece__in=pieces).exclude(owner=None))
    written = Reminder.objects.filter(piece__in=pieces, ended_on=None)
    said = Answer.objects.filter(piece__in=pieces)
    for rows in (
        [(one.piece_id, one.taken_on, one.owner_id) for one in taken if one.owner_id],
        _handed_back(taken, pieces),
        written.values_list("piece_id", "letter__planned_on", "letter__owner_id"),
        said.values_list("piece_id", "said_on", "owner_id"),
    ):
        for piece, day, whose in rows:
            records[piece].append((day, whose))
    found = {piece.pk: own_time(records[piece.pk], owner.pk, still=piece.owner_id == owner.pk) for piece in pieces}
    return {piece: time for piece, time in found.items() if time is not None}


def day_of_move(move: Custody, piece: Piece) -> date:
    """The day of a move by the clock of the boutique where it was made, else of the one that sold the piece."""
    at = move.boutique or piece.boutique
    return move.since.astimezone(zone_of(at.time_zone if at else "")).date()


def _handed_back(drop_offs: Collection[DropOff], pieces: Collection[Piece]) -> Iterator[tuple[int, date, int]]:
    """Of each drop-off the piece, the day it was over and whose it was; nothing of one that is not. One statement."""
    if not drop_offs:
        return
    known = {piece.pk: piece for piece in pieces}
    moves = Custody.objects.filter(piece__in=known, place=Place.OWNER).select_related("boutique").order_by("pk")
    back: dict[int, list[Custody]] = defaultdict(list)
    for move in moves:
        back[move.piece_id].append(move)
    for one in drop_offs:
        over = next((move for move in back[one.piece_id] if move.pk > one.move_id), None)
        if over is not None and one.owner_id:
            yield one.piece_id, day_of_move(over, known[one.piece_id]), one.owner_id


def zone_for(owner: Owner, letter: Letter) -> ZoneInfo:
    """An owner's clock: their own zone, else that of the boutique their letter speaks of, which has the order or sold the
    piece (as for letters), else the house's. One statement at most.
    """
    if owner.time_zone:
        return zone_of(owner.time_zone)
    if letter.sort == LetterSort.ORDER:
        zone = OrderWord.objects.filter(letter=letter).values_list("boutique__time_zone", flat=True).first()
    else:
        zone = letter.reminders.values_list("piece__boutique__time_zone", flat=True).first()
    return zone_of(zone or "")


def _answers_since(letter: Letter, pieces: list[Piece]) -> dict[int, Answer]:
    answers = Answer.objects.filter(owner=letter.owner_id, piece__in=pieces, recorded_at__gte=letter.written_at)
    latest = answers.exclude(choice=AnswerChoice.NO_MORE_LETTERS).select_related("boutique").order_by("pk")
    return {answer.piece_id: answer for answer in latest if answer.piece_id is not None}


def _stands(due: Due, reminders: list[Reminder]) -> bool:
    if due.held or due.start is None:
        return False
    counted = {due.start.on, due.owed.since} if due.owed else {due.start.on}
    return any(reminder.kind == due.kind and reminder.starts_on in counted for reminder in reminders)
