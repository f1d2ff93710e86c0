"""What letters say, read for many at once."""

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import partial
from typing import NamedTuple, Self
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q

from service_center.book.models import Boutique, HistoryEntry, Piece
from service_center.book.queries import boutiques_by_country
from service_center.book.rules import Complexity, DoneBy, EntryKind, ServiceKind, Tightness
from service_center.guarantee.queries import dated_terms
from service_center.guarantee.rules import Cover, CoveredBy, DatedTerms, Work, cover
from service_center.intervals.queries import facts_of, house_rules
from service_center.intervals.rules import Due, due_dates
from service_center.letters.calendars import zone_of_owner
from service_center.letters.composing.letter import (
    Content,
    LetterContent,
    PieceInLetter,
    ServiceInLetter,
)
from service_center.letters.models import Letter, Reminder
from service_center.letters.queries.telling import orders_told_of, receipts_told_of, visits_told_of
from service_center.letters.queries.wording import wordings_of
from service_center.letters.rules.speaking import OnItsWay, speaks_from
from service_center.letters.rules.words import Channel, LetterSort, LetterState, Step


class _Told(NamedTuple):
    """What a letter may tell of a piece whatever falls due. Values, for one claim reads hundreds."""

    serial: str
    name: str
    rated: bool
    complexity: Complexity | None
    boutique: str
    zone: str
    sold_on: date | None
    extension_enrolled_on: date | None

    @classmethod
    def of(cls, piece: Piece) -> Self:
        model = piece.model
        calibre = model.calibre if model else None
        return cls(
            serial=piece.serial,
            name=str(model) if model else piece.serial,
            rated=bool(model and model.rated_bar is not None),
            complexity=_complexity(calibre.complexity if calibre else None),
            boutique=piece.boutique.name if piece.boutique else "",
            zone=piece.boutique.time_zone if piece.boutique else "",
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
        complexity: str | None,
        boutique: str | None,
        zone: str | None,
    ) -> Self:
        """From the columns of _TOLD_OF_PIECE."""
        return cls(
            serial=serial,
            name=(name or reference or "") if model else serial,
            rated=rated_bar is not None,
            complexity=_complexity(complexity),
            boutique=boutique or "",
            zone=zone or "",
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
    "piece__model__calibre__complexity",
    "piece__boutique__name",
    "piece__boutique__time_zone",
)


def _complexity(written: str | None) -> Complexity | None:
    return Complexity(written) if written else None


class _Asked(NamedTuple):
    """What one reminder asks for, and of which interval."""

    kind: ServiceKind
    starts_on: date
    step: str


_OfOwner = tuple[int, int, ServiceKind, date]  # an owner, a piece, a kind and the start of its interval

Tell = Callable[[], Content]


def all_contents_of(letters: Sequence[Letter], *, now: datetime) -> dict[int, Content]:
    """What each letter says, whatever it is about. Twenty statements at most, however many letters."""
    return {letter: tell() for letter, tell in all_read_of(letters, now=now).items()}


def all_read_of(letters: Sequence[Letter], *, now: datetime, on: date | None = None) -> dict[int, Tell]:
    """The same read now and worked out when it is asked for, each letter by itself: what is wrong with one keeps back
    no other. Twenty statements at most, none of them when it is asked for.

    `on` stands for today wherever an owner lives.
    """
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
        **(_read_of(care, now=now, on=on) if care else {}),
        **{letter: partial(_as_told, content) for letter, content in told.items()},
    }


def _as_told(content: Content) -> Content:
    return content


def contents_of(letters: Sequence[Letter], *, now: datetime, language: str | None = None) -> dict[int, LetterContent]:
    """What each letter says of its living reminders; one that ended, of those it would have said.

    In its own language and the words it was written with, or in another `language`; from the day on which it went
    out, or would now. Twelve statements at most, however many.
    """
    return {letter: tell() for letter, tell in _read_of(letters, now=now, language=language).items()}


def _read_of(
    letters: Sequence[Letter], *, now: datetime, on: date | None = None, language: str | None = None
) -> dict[int, Callable[[], LetterContent]]:
    asked: dict[int, dict[int, list[_Asked]]] = defaultdict(lambda: defaultdict(list))
    spoken_of = Q(ended_on=None) | Q(letter__state=LetterState.ENDED)
    reminders = Reminder.objects.filter(spoken_of, letter_id__one_of=[letter.pk for letter in letters])
    in_order = reminders.order_by("piece__serial", "kind")
    told: dict[int, _Told] = {}
    for letter_id, piece_id, kind, starts_on, step, *of_piece in in_order.values_list(
        "letter_id", "piece_id", "kind", "starts_on", "step", *_TOLD_OF_PIECE
    ):
        asked[letter_id][piece_id].append(_Asked(ServiceKind(kind), starts_on, step))
        told[piece_id] = told.get(piece_id) or _Told.read(*of_piece)
    pieces = set(told)
    facts = facts_of(pieces)
    rules = house_rules()
    works, dated = _works(pieces), dated_terms()
    near = boutiques_by_country()
    wordings = wordings_of(letters, language)
    written_before = _written_before(asked)

    def dues(piece: int, as_of: date) -> dict[ServiceKind, Due]:
        found = due_dates(facts[piece], rules, as_of, shelf_months=settings.SHELF_MONTHS)
        return {due.kind: due for due in found}

    def as_owner_reads(letter: Letter, piece: int, one: _Asked) -> tuple[ServiceKind, str]:
        first = written_before.get((letter.owner_id, piece, one.kind, one.starts_on), letter.pk)
        return one.kind, one.step if first < letter.pk else Step.INVITATION.value

    def content_of(letter: Letter) -> LetterContent:
        of_letter = asked[letter.pk]
        sold_in = next((told[piece].zone for piece in of_letter if told[piece].zone), "")
        as_of = _day_of_words(
            letter, zone_of_owner(letter.owner.time_zone, letter.owner.country, sold_in, now.date()), now, on
        )
        return LetterContent(
            letter=letter.pk,
            language=wordings[letter.pk].language,
            wording=wordings[letter.pk],
            owner_name=letter.owner.name,
            as_of=as_of,
            pieces=tuple(
                _piece(
                    told[piece],
                    [as_owner_reads(letter, piece, one) for one in of_piece],
                    dues(piece, as_of),
                    _cover_of(told[piece], works[piece], dated, as_of),
                    _names(near, letter.owner.country),
                )
                for piece, of_piece in of_letter.items()
            ),
        )

    return {letter.pk: partial(content_of, letter) for letter in letters}


def _written_before(asked: Mapping[int, Mapping[int, Sequence[_Asked]]]) -> dict[_OfOwner, int]:
    """The first letter that went out to an owner about an interval, of pieces that a later step is about.

    A piece's steps go on when it changes hands, and its new owner was never written to. One statement at most.
    """
    later = {
        piece
        for pieces in asked.values()
        for piece, reminders in pieces.items()
        if any(one.step != Step.INVITATION for one in reminders)
    }
    if not later:
        return {}
    first: dict[_OfOwner, int] = {}
    went_out = Reminder.objects.filter(piece_id__one_of=later, ended_on=None, letter__state=LetterState.SENT)
    for owner, piece, kind, starts_on, letter in went_out.values_list(
        "letter__owner_id", "piece_id", "kind", "starts_on", "letter_id"
    ):
        interval = (owner, piece, ServiceKind(kind), starts_on)
        first[interval] = min(letter, first.get(interval, letter))
    return first


def _day_of_words(letter: Letter, zone: ZoneInfo, now: datetime, on: date | None) -> date:
    by_hand = letter.channel != Channel.MAIL
    out = letter.sent_at or letter.dot_at
    # Whoever told an owner by hand wrote down the day, which stands as its noon, UTC.
    out_on = out.astimezone(UTC if by_hand else zone).date() if out else None
    on_its_way = OnItsWay(LetterState(letter.state), letter.planned_on, out_on, by_hand=by_hand)
    return speaks_from(on_its_way, on or now.astimezone(zone).date())


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
        complexity=piece.complexity,
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
