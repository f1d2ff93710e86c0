"""The counters: readings and drop-offs of a year, and booked visits."""

from datetime import time, timedelta
from decimal import Decimal

from service_center.access.models import Staff
from service_center.book.models import Boutique, Custody, Piece
from service_center.book.rules import Place
from service_center.guarantee.rules.decision import CoveredBy, Decision, Reason
from service_center.intake.models import DropOff, OpeningHours, Visit, VisitPiece
from service_center.letters.models import Letter
from service_center.measurements.models import Reading, TimingSheet
from service_center.measurements.rules import Wind
from service_center.workshop.models import WorkOrder
from tests.bench.on_a_made_book.full_house.writing import AS_OF, BATCH, at, key, write


def write_drop_offs(by: Staff) -> None:
    """The orders of a year with their readings before, and their drop-offs."""
    nothing = Decision(AS_OF, CoveredBy.NONE, Reason.NO_SALE_DATE, (), None, None)
    orders = list(WorkOrder.objects.filter(opened_on__gt=AS_OF - timedelta(days=365)).order_by("pk"))
    for start in range(0, len(orders), BATCH):
        some = orders[start : start + BATCH]
        sheets = TimingSheet.objects.bulk_create(
            TimingSheet(piece_id=one.piece_id, taken_on=one.opened_on, instrument="Bench 2") for one in some
        )
        write(
            Reading(
                sheet=sheet,
                position=position,
                wind=Wind.FULL.value,
                rate=Decimal(sheet.pk % 14 - 4),
                amplitude=Decimal(270),
            )
            for sheet in sheets
            for position in ("CH", "CB", "6H", "9H", "3H", "12H")
        )
        moves = Custody.objects.bulk_create(
            Custody(piece_id=one.piece_id, place=Place.BOUTIQUE.value, boutique_id=one.boutique_id, since=one.opened_at)
            for one in some
        )
        DropOff.objects.bulk_create(
            DropOff(
                form_key=key(), number=one.number, piece_id=one.piece_id, move=move, owner_id=one.owner_id,
                boutique_id=one.boutique_id, taken_on=one.opened_on, taken_by=by, owner_says="It loses a minute a day.",
                promised_on=one.promised_on, guarantee=nothing.record(), sheet=sheet,
            )
            for one, move, sheet in zip(some, moves, sheets, strict=True)
        )  # fmt: skip


def write_visits() -> None:
    boutiques = list(Boutique.objects.order_by("pk"))
    write(
        OpeningHours(boutique=boutique, weekday=weekday, opens=time(10), closes=time(18), places=2)
        for boutique in boutiques
        for weekday in range(5)
    )
    seats = [
        (day, boutique, seat)
        for day in (AS_OF + timedelta(days=days) for days in range(-80, 30))
        if day.weekday() < 5
        for boutique in boutiques
        for seat in range(16)
    ]
    told = Letter.objects.filter(state="sent").order_by("-pk").values_list("pk", "owner_id")[: len(seats)]
    visits = [
        Visit(
            key=key(), owner_id=owner, letter_id=letter, boutique=boutique, day=day, at=time(10 + seat // 2), zone="UTC",
            starts_at=at(day, 10 + seat // 2), ends_at=at(day, 10 + seat // 2) + timedelta(minutes=30), seat=1 + seat % 2,
            state="booked" if day >= AS_OF else "came", changed_at=at(AS_OF),
        )
        for (day, boutique, seat), (letter, owner) in zip(seats, told, strict=False)
    ]  # fmt: skip
    write(visits)
    pieces = dict(Piece.objects.filter(owner__in={one.owner_id for one in visits}).values_list("owner_id", "pk"))
    write(VisitPiece(visit_id=pk, piece_id=pieces[owner]) for pk, owner in Visit.objects.values_list("pk", "owner_id"))
