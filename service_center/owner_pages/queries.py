"""What an owner sees behind a letter's link: the pieces and services of that letter, and what they answered."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.conf import settings

from service_center.book.models import Boutique, Owner, Piece
from service_center.book.rules import ServiceKind
from service_center.intake.visits.queries import with_opening_hours
from service_center.intervals.queries import facts_of, house_rules
from service_center.intervals.rules import Due, due_dates
from service_center.letters.models import Answer, Letter, Reminder
from service_center.letters.rules.words import AnswerChoice


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
    """Where an owner may bring pieces: boutiques of their country and those that sold the pieces, else all of them."""
    sold_them = {of.piece.boutique_id for of in pieces}
    known = list(Boutique.objects.order_by("name", "code"))
    near = [one for one in known if one.pk in sold_them or (one.country and one.country == owner.country)]
    return near or known


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


def _answers_since(letter: Letter, pieces: list[Piece]) -> dict[int, Answer]:
    answers = Answer.objects.filter(owner=letter.owner_id, piece__in=pieces, recorded_at__gte=letter.written_at)
    latest = answers.exclude(choice=AnswerChoice.NO_MORE_LETTERS).select_related("boutique").order_by("pk")
    return {answer.piece_id: answer for answer in latest if answer.piece_id is not None}


def _stands(due: Due, reminders: list[Reminder]) -> bool:
    if due.held or due.start is None:
        return False
    counted = {due.start.on, due.owed.since} if due.owed else {due.start.on}
    return any(reminder.kind == due.kind and reminder.starts_on in counted for reminder in reminders)
