"""Owners whom a letter would go to, and whom no mail reaches: whom to telephone or write to on paper, and whom not."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Exists, Q, QuerySet

from service_center.book.models import Owner, Piece
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter, StoppedAddress
from service_center.letters.queries.coming import selections, stopped, wants_letters
from service_center.letters.queries.grounds import latest_ground
from service_center.letters.queries.rounds import owners_before_round
from service_center.letters.rules.deciding import Decision, Reason, decide, out_of_reach
from service_center.letters.rules.words import Channel, Ground, LetterState

PAGE = 25
LEFT_ALONE = 200  # shown of those who are not to be contacted; the rest is counted in a round's own list


@dataclass(slots=True)
class ToReach:
    """One owner whom mail does not reach, why, and the pieces for which something would go out."""

    owner: Owner
    reason: Reason
    pieces: list[Piece] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class LeftAlone:
    """One piece for which nothing is to be said to anybody now, and why."""

    piece: Piece
    reason: Reason


def to_reach(as_of: date, after: int = 0) -> tuple[list[ToReach], int | None]:
    """Owners to telephone or to write to on paper, in order of id, after one; and where the next page begins.

    They have letters, and a ground for them: only the mail fails. Two statements a selection, and one for the owners.
    """
    bounced = Exists(stopped("piece__owner__email"))
    fails = Q(piece__owner__email="") | Q(bounced)
    ids: set[int] = set()
    chosen = [rows.filter(wants_letters(), fails, held="", piece__owner__gt=after) for rows in selections(as_of)]
    for rows in chosen:
        found = rows.order_by("piece__owner_id").values_list("piece__owner_id", flat=True).distinct()
        ids.update(pk for pk in found[: PAGE + 1] if pk)
    page = sorted(ids)[:PAGE]
    pieces: dict[int, dict[int, Piece]] = defaultdict(dict)
    for rows in chosen:
        for row in rows.filter(piece__owner__in=page).select_related("piece__model").order_by("piece__serial"):
            pieces[row.piece.owner_id or 0][row.piece_id] = row.piece
    owners = Owner.objects.in_bulk(page)
    rows_of_page = [
        ToReach(owners[pk], Reason.ADDRESS_STOPPED if owners[pk].email else Reason.NO_EMAIL, list(pieces[pk].values()))
        for pk in page
    ]
    return rows_of_page, page[-1] if len(ids) > PAGE else None


def left_alone(as_of: date) -> list[LeftAlone]:
    """Pieces for which something would go out, and whose owner is not to be contacted about it: the first of them."""
    bounced = Q(Exists(stopped("piece__owner__email")))
    found: dict[int, LeftAlone] = {}
    for rows in selections(as_of):
        beyond = rows.filter(~wants_letters() | ~Q(held="")).annotate(bounced=bounced)
        for row in beyond.select_related("piece__owner", "piece__model").order_by("pk")[:LEFT_ALONE]:
            reason = _reason(row)
            if reason:
                found.setdefault(row.piece_id, LeftAlone(row.piece, reason))
    return sorted(found.values(), key=lambda one: (one.reason, one.piece.serial))[:LEFT_ALONE]


def _reason(row: DueDate) -> Reason | None:
    owner = row.piece.owner
    return out_of_reach(
        has_owner=owner is not None,
        letters=owner.letters if owner else None,
        has_ground=False,  # whoever has letters and a ground is not among these, unless the piece is held
        email=owner.email if owner else "",
        stopped=False,
        held=row.held,
    )


def prepared() -> QuerySet[Letter]:
    """Letters that wait to be told or sent on paper, the oldest first."""
    return (
        Letter.objects.filter(state=LetterState.HELD)
        .exclude(channel=Channel.MAIL)
        .select_related("owner")
        .order_by("pk")
    )


def decision_for(owner: Owner, as_of: date) -> Decision | None:
    """What would go to one owner today if mail reached them; None for one whom mail reaches or who wants none.

    Nobody is telephoned twice in 28 days either; weekends and holidays are the desk's own.
    """
    reached_by_mail = owner.email and not StoppedAddress.objects.filter(email=owner.email.lower()).exists()
    if owner.letters is not True or reached_by_mail or not _on_a_ground(owner):
        return None
    [before] = owners_before_round(Owner.objects.filter(pk=owner.pk), as_of)
    return decide(before.side, as_of, lambda _day: True)


def _on_a_ground(owner: Owner) -> bool:
    ground = latest_ground(owner)
    return ground is not None and ground.ground != Ground.WITHDRAWN


def pieces_of(letter: Letter) -> list[Piece]:
    """The pieces of which a letter speaks."""
    return list(Piece.objects.filter(reminders__letter=letter, reminders__ended_on=None).distinct().order_by("serial"))
