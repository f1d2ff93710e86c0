"""What an owner keeps of each time they brought a piece: receipt, photographs, service report."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from service_center.bench.queries import Stay, judged_sheets, stays_of
from service_center.book.models import Owner, Piece
from service_center.intake.models import DropOff, Photograph
from service_center.intake.photographs.queries import photographs_of_owner
from service_center.owner_pages.queries import own_times


@dataclass(frozen=True, slots=True)
class Papers:
    """One drop-off's. `has_report`: the piece went back, with readings taken after the work."""

    drop_off: DropOff
    photographs: list[Photograph]
    has_report: bool


def papers_of(owner: Owner, piece: Piece, drop_offs: Sequence[DropOff]) -> list[Papers]:
    """What there is of an owner's own drop-offs, in their order. Sixteen statements at most, however many."""
    if not drop_offs:
        return []
    pictures: dict[int, list[Photograph]] = defaultdict(list)
    for one in photographs_of_owner(owner).filter(draft__drop_off__in=drop_offs).order_by("pk"):
        pictures[one.draft.drop_off.pk].append(one)
    reported = {stay.drop_off.pk for stay in finished_stays(owner, piece)}
    return [Papers(one, pictures[one.pk], one.pk in reported) for one in drop_offs]


def finished_stays(owner: Owner, piece: Piece) -> list[Stay]:
    """The stays of a piece that have a service report for this owner: theirs, over, and read after the work.

    Sheets of somebody else's time with the piece are left out.
    """
    time = own_times(owner, [piece]).get(piece.pk)
    if time is None:
        return []
    sheets = [one for one in judged_sheets(piece) if time.holds(one.sheet.taken_on)]
    return [
        stay
        for stay in stays_of(piece, sheets)
        if stay.drop_off.owner_id == owner.pk and stay.is_over and stay.after is not None
    ]
