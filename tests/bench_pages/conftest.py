"""A bench on a fixed day, and a piece that was taken in, tested, read and handed back."""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from uuid import uuid4

import pytest
import time_machine
from django.test import Client

from service_center.bench import queries
from service_center.bench.actions import Sitting as BenchSitting
from service_center.bench.actions import Tested, add_result, record_sheet
from service_center.bench.queries import Stay
from service_center.book.models import Piece
from service_center.intake.actions import Sitting, take_in
from service_center.intake.rules import Asked
from service_center.measurements.actions import Decay, begin_run, record_reserve
from service_center.measurements.queries import plan_of_run
from service_center.measurements.rules import Reading
from service_center.measurements.rules.reserve import Control
from service_center.measurements.rules.tightness import IN_AIR
from tests.factories import PieceFactory, StaffFactory
from tests.measurements.test_sheet import SIX, sheet
from tests.workshop.hands import bring_through

TODAY = date(2026, 11, 25)
CAME, WENT = date(2026, 10, 5), date(2026, 11, 20)


@pytest.fixture(autouse=True)
def _the_day() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 11, 25, 9, 0, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def bench(signed_in: Callable[..., Client]) -> Client:
    return signed_in("watchmaker")


@pytest.fixture
def piece(db: None) -> Piece:
    return PieceFactory()


def tired(readings: list[Reading]) -> list[Reading]:
    """The same piece before its overhaul: 60 degrees and 9 s/d less."""
    return [
        Reading(one.position, one.wind, one.rate - 9, one.amplitude - 60, one.beat_error)  # type: ignore[operator]
        for one in readings
    ]


def as_read(piece: Piece) -> Piece:
    """As a page reads it, figures as decimals."""
    return Piece.objects.select_related("model__calibre", "owner", "boutique").get(pk=piece.pk)


def stay_of(piece: Piece) -> Stay:
    """A whole stay, from the drop-off to the hand-back."""
    by = StaffFactory()
    piece = as_read(piece)
    take_in(
        piece, form_key=uuid4(), boutique=piece.boutique, by=by, taken_on=CAME,
        at=datetime(2026, 10, 5, 9, tzinfo=UTC), as_of=CAME, asked=[Asked.OVERHAUL], owner_says="It stops at night.",
        left_with="", sitting=Sitting(tired(sheet(SIX)), "Bench 2", Decimal(52)),
    )  # fmt: skip
    run = begin_run(piece, form_key=uuid4(), on=date(2026, 11, 18), by=by)
    for one in plan_of_run(run):
        decay = Decay(Decimal("1.2"), Decimal(10), Decimal(22)) if one.test in IN_AIR else None
        passed = None if decay else True
        add_result(run, one.test, Tested(passed, one.bar, one.minutes, decay, ""), by=by, as_of=date(2026, 11, 18))
    record_reserve(piece, Control.FINAL, form_key=uuid4(), hours=Decimal(44), stopped_on=date(2026, 11, 17), by=by)
    after = BenchSitting(sheet(SIX), WENT, "Bench 2", Decimal(52), Decimal("22.5"), False, "")
    record_sheet(piece, after, form_key=uuid4(), by=by, as_of=WENT)
    bring_through(piece, WENT, by=by, note="For the house alone.")
    return queries.stays_of(piece, queries.judged_sheets(piece))[0]
