"""What letters say, read for many at once."""

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import partial
from typing import NamedTuple, Self

from django.conf import settings
from django.db.models import Q

from service_center.book.models import Boutique, HistoryEntry, Piece
from service_center.book.queries import boutiques_by_country
from service_center.book.rules import DoneBy, EntryKind, ServiceKind, Tightness
from service_center.guarantee.queries import dated_terms
from service_center.guarantee.rules import Cover, CoveredBy, DatedTerms, Work, cover
from service_center.intervals.queries import facts_of, house_rules
from service_center.intervals.rules import Due, due_dates
from service_center.letters.composing.letter import (
    Content,
    LetterContent,
    PieceInLetter,
    ServiceInLetter,
)
from service_center.letters.models import Letter, Reminder
from service_center.letters.queries.telling import orders_told_of, receipts_told_of, visits_told_of
from service_center.letters.queries.wording import wordings_of
from service_center.letters.rules.words import LetterSort, LetterState


class _Told(NamedTuple):
    """What a letter may tell of a piece whatever falls due. Values, for one claim reads hundreds."""

    serial: str
    name: str
    rated: bool
    boutique: str
    sold_on: date | None
    extension_enrolled_on: date | None

    @classmethod
    def of(cls, piece: Piece) -> Self:
        model = piece.model
        return cls(
            serial=piece.serial,
            name=str(model) if model else piece.serial,
            rated=bool(model and model.rated_bar is not None),
            boutique=piece.boutique.name if piece.boutique else "",
            sold_on=piece.sold_on,
            extension_enrolled_on=piece.extension_enrolled_on,
        )

    @classmethod
    def read(
        cls,
        serial: str,
        sold_on: date | None,
        extension_enrolled_on: date | None,
        model: int | None,
        name: str | None,
        reference: str | None,
        rated_bar: Decimal | None,
        boutique: str | None,
    ) -> Self:
        """From the columns of _TOLD_OF_PIECE."""
        return cls(
            serial=serial,
            name=(name or reference or "") if model else serial,
            rated=rated_bar is not None,
            boutique=boutique or "",
            sold_on=sold_on,
            extension_enrolled_on=extension_enrolled_on,
        )


_TOLD_OF_PIECE = (
    "piece__serial",
    "piece__sold_on",
    "piece__extension_enrolled_on",
    "piece__model_id",
    "piece__model__name",
    "piece__model__reference",
    "piece__model__rated_bar",
    "piece__boutique__name",
)


Tell = Callable[[], Content]


def all_contents_of(letters: Sequence[Letter]) -> dict[int, Content]:
    """What each letter says, whatever it is about. Nineteen statements at most, however many letters."""
    return {letter: tell() for letter, tell in all_read_of(letters).items()}


def all_read_of(letters: Sequence[Letter]) -> dict[int, Tell]:
    """The same read now and worked out when it is asked for, each letter by itself: what is wrong with one keeps back
    no other. Nineteen statements at most, none of them when it is asked for."""
    visits = [letter for letter in letters if letter.sort == LetterSort.CONFIRMATION]
    receipts = [letter for letter in letters if letter.sort == LetterSort.RECEIPT]
    orders = [letter for letter in letters if letter.sort == LetterSort.ORDER]
    care = [letter for letter in letters if letter.sort == LetterSort.INVITATION]
    told: dict[int, Content] = {
        **(visits_told_of(visits) if visits else {}),
        **(receipts_told_of(receipts) if receipts else {}),
        **(orders_told_of(orders) if orders else {}),
    }
    return {
        **(_read_of(care) if care else {}),
        **{letter: partial(_as_told, content) for letter, content in told.items()},
    }


def _as_told(content: Content) -> Content:
    return content


def contents_of(letters: Sequence[Letter], *, language: str | None = None) -> dict[int, LetterContent]:
    """What each letter says of its living reminders; one that ended, of those it would have said.

    In its own language and the words it was written with, or in another `language`. Eleven statements at most, however many.
    """
    return {letter: tell() for letter, tell in _read_of(letters, language=language).items()}


def _read_of(letters: Sequence[Letter], *, language: str | None = None) -> dict[int, Callable[[], LetterContent]]:
    asked: dict[int, dict[int, list[tuple[ServiceKind, str]]]] = defaultdict(lambda: defaultdict(list))
    spoken_of = Q(ended_on=None) | Q(letter__state=LetterState.ENDED)
    reminders = Reminder.objects.filter(spoken_of, letter_id__one_of=[letter.pk for letter in letters])
    in_order = reminders.order_by("piece__serial", "kind")
    told: dict[int, _Told] = {}
    for letter_id, piece_id, kind, step, *of_piece in in_order.values_list(
        "letter_id", "piece_id", "kind", "step", *_TOLD_OF_PIECE
    ):
        asked[letter_id][piece_id].append((ServiceKind(kind), step))
        told[piece_id] = told.get(piece_id) or _Told.read(*of_piece)
    pieces = set(told)
    facts = facts_of(pieces)
    rules = house_rules()
    works, dated = _works(pieces), dated_terms()
    near = boutiques_by_country()
    wordings = wordings_of(letters, language)

    def dues(piece: int, as_of: date) -> dict[ServiceKind, Due]:
        found = due_dates(facts[piece], rules, as_of, shelf_months=settings.SHELF_MONTHS)
        return {due.kind: due for due in found}

    def content_of(letter: Letter) -> LetterContent:
        return LetterContent(
            letter=letter.pk,
            language=wordings[letter.pk].language,
            wording=wordings[letter.pk],
            owner_name=letter.owner.name,
            as_of=letter.planned_on,
            pieces=tuple(
                _piece(
                    told[piece],
                    of_piece,
                    dues(piece, letter.planned_on),
                    _cover_of(told[piece], works[piece], dated, letter.planned_on),
                    _names(near, letter.owner.country),
                )
                for piece, of_piece in asked[letter.pk].items()
            ),
        )

    return {letter.pk: partial(content_of, letter) for letter in letters}


def pieces_as_told(
    pieces: Sequence[Piece], kinds: Collection[ServiceKind], step: str, as_of: date
) -> list[PieceInLetter]:
    """What a letter of that day would tell of some pieces, whatever was written: for looking at its words.

    A piece for which nothing of that kind falls due is left out. Six statements.
    """
    keys = {piece.pk for piece in pieces}
    facts, rules, works, dated = facts_of(keys), house_rules(), _works(keys), dated_terms()
    near = boutiques_by_country()
    told = []
    for piece in pieces:
        dues = {
            due.kind: due
            for due in due_dates(facts[piece.pk], rules, as_of, shelf_months=settings.SHELF_MONTHS)
            if due.kind in kinds and due.due_on
        }
        if dues:
            of_piece, asked = _Told.of(piece), [(kind, step) for kind in dues]
            country = piece.owner.country if piece.owner else ""
            covered = _cover_of(of_piece, works[piece.pk], dated, as_of)
            told.append(_piece(of_piece, asked, dues, covered, _names(near, country)))
    return told


def _piece(
    piece: _Told,
    asked: Sequence[tuple[ServiceKind, str]],
    dues: dict[ServiceKind, Due],
    covered: Cover | None,
    near: tuple[str, ...],
) -> PieceInLetter:
    return PieceInLetter(
        name=piece.name,
        serial=piece.serial,
        rated=piece.rated,
        boutique=piece.boutique,
        services=tuple(ServiceInLetter(due=dues[kind], step=step) for kind, step in asked if kind in dues),
        guarantee_to=covered.to_on if covered else None,
        guarantee_by=covered.by if covered else CoveredBy.NONE,
        near=near,
    )


def _names(near: Mapping[str, Sequence[Boutique]], country: str) -> tuple[str, ...]:
    return tuple(str(one) for one in near.get(country, ())) if country else ()


def _works(pieces: Collection[int]) -> dict[int, list[Work]]:
    """What the guarantee of each piece hangs on; a wrong entry that was corrected does not count."""
    works: dict[int, list[Work]] = defaultdict(list)
    rows = HistoryEntry.objects.filter(piece_id__one_of=pieces, corrections=None)
    for piece, done_on, kind, case_opened, done_by, tightness, accepted in rows.values_list(
        "piece_id", "done_on", "kind", "case_opened", "done_by", "tightness", "accepted"
    ):
        own = done_by == DoneBy.OWN
        passed = tightness == Tightness.PASSED and (own or bool(accepted))
        by = DoneBy(done_by) if done_by else DoneBy.OUTSIDE
        works[piece].append(Work(done_on, EntryKind(kind), bool(case_opened), by, passed_check=passed))
    return works


def _cover_of(piece: _Told, works: Sequence[Work], dated: Sequence[DatedTerms], as_of: date) -> Cover | None:
    """The guarantee that runs on a day, if one does: the same as the piece's page tells (guarantee.queries)."""
    decision = cover(
        sold_on=piece.sold_on,
        extension_enrolled_on=piece.extension_enrolled_on,
        history=[work for work in works if work.done_on <= as_of],
        as_of=as_of,
        is_working_day=lambda _day: True,  # only whether the last day moves on would hang on it
        dated=dated,
        rated=piece.rated,
    )
    return next((one for one in decision.covers if one.by is decision.covered_by), None)
