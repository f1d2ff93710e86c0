"""Fernhollow's workshop: stays of the past months, whole, and the orders that are in it now."""

import random
from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils import timezone

from service_center.access.models import Staff
from service_center.bench.orders.actions import hand_back_order
from service_center.book.models import Calibre, Owner, Piece
from service_center.book.rules import EntryKind, ServiceKind
from service_center.book.wording import FALLBACK, language_of
from service_center.demo import counter
from service_center.demo.rules.workshop import (
    ESTIMATE_LINES,
    FOUND,
    PAST_STAYS,
    SHELF,
    SUPPLIERS,
    Found,
    Got,
    brought_for,
    days_until_ready,
    how_far,
    intake_readings,
    minutes_spent,
    readings_after,
)
from service_center.intake.actions import Sitting, take_in
from service_center.intake.rules import ORDERED
from service_center.intervals.models import DueDate
from service_center.measurements.actions import begin_run, record_sheet
from service_center.measurements.queries import plan_of_run
from service_center.pieces.tested import Tested, add_result
from service_center.workshop.models import Part, WorkOrder
from service_center.workshop.orders.actions import (
    EstimateLine,
    NotReady,
    add_finding,
    answer_estimate,
    bring_to_boutique,
    finish_operation,
    move_order,
    write_estimate,
)
from service_center.workshop.orders.queries.control import unfinished_of
from service_center.workshop.orders.rules.answers import Heard
from service_center.workshop.orders.rules.control import only_limits
from service_center.workshop.orders.rules.operations import AT_CONTROL, Operation
from service_center.workshop.orders.rules.steps import Step
from service_center.workshop.parts.actions import keep_part, move_stock, use_part
from service_center.workshop.parts.ordered.actions import receive, write_order
from service_center.workshop.parts.ordered.rules import Line
from service_center.workshop.parts.rules import StockReason

INSTRUMENT = "Bench 2"
ESTIMATE_DAYS = 30
TIRED = "As good as this escapement gets; the owner knows and agreed."
People = dict[str, Staff]
BEFORE_CONTROL = (Got.DIAGNOSED, Got.ASKED, Got.DECLINED, Got.ON_THE_BENCH, Got.RESTING)
OWNER_SAYS = {
    EntryKind.OVERHAUL: "Your letter came; time for the overhaul.",
    EntryKind.REPAIR: "It fell on the tiles, and stops since.",
    EntryKind.TIGHTNESS_CHECK: "Off to the sea soon. Is it still tight?",
}
# How far into a stay the piece is ready.
READY_AT = 0.95
# Days that a past stay takes at most, so that the latest of them is over.
LONGEST = 31
# Of the orders in the workshop whose day is over.
READY_IN_TIME = 0.85


def fill_the_shelf(today: date, by: People) -> None:
    """Parts, with what lay there a year and a half ago, and what the benches used since is taken off by their orders."""
    calibres = {calibre.code: calibre for calibre in Calibre.objects.all()}
    for one in SHELF:
        part = keep_part(
            None, number=one.number, name=one.name, sort=one.sort, calibre=calibres.get(one.calibre), model=None,
            pack=one.pack, delivery_days=one.delivery_days, in_use=True, by=by["desk"],
        )  # fmt: skip
        move_stock(
            part, one.on_hand + PAST_STAYS if not one.calibre else one.on_hand + PAST_STAYS // 4,
            StockReason.DELIVERED, at=_at(today - timedelta(days=500), 9), by=by["desk"], form_key=uuid4(),
        )  # fmt: skip


def order_parts(today: date, by: People) -> None:
    """What was ordered from suppliers: an order that came, one that is late by most of it, and one that is on its way."""
    parts = {part.number: part.pk for part in Part.objects.all()}
    for supplier, ordered in SUPPLIERS.items():
        ordered_on = today - timedelta(days=ordered[0].days_ago)
        order = write_order(
            [
                Line(parts[one.number], one.quantity, ordered_on + timedelta(days=one.expected_after))
                for one in ordered
            ],
            supplier=supplier, reference="", ordered_on=ordered_on, at=_at(ordered_on, 10), by=by["desk"],
            form_key=uuid4(),
        )  # fmt: skip
        for one, line in zip(ordered, order.lines.order_by("pk"), strict=True):
            if one.came:
                day = ordered_on + timedelta(days=one.came_after)
                receive(line, one.came, at=_at(day, 9), by=by["bench"], form_key=uuid4())


def tell_past_stays(dice: random.Random, today: date, by: People, progress: Callable[[str, int, int], None]) -> None:
    """Stays from the counter to the owner's hands, over the last fourteen months: overhauls, some repairs and checks."""
    due = DueDate.objects.filter(
        kind=ServiceKind.OVERHAUL.value, held="", owed_since=None, piece__owner__isnull=False,
        due_on__gt=today - timedelta(days=400), due_on__lt=today - timedelta(days=40),
    )  # fmt: skip
    # A piece that was read since then, on another errand, is as tired as it was: its stay would not end in order.
    due = due.exclude(piece__timing_sheets__taken_on__gt=today - timedelta(days=430))
    rows = list(due.exclude(piece__boutique=None).order_by("due_on", "piece").values_list("due_on", "piece_id"))
    chosen = dice.sample([(day, pk) for day, pk in rows if day], min(len(rows), PAST_STAYS))
    stays = sorted((_worked(due_on + timedelta(days=dice.randint(-20, 6))), pk) for due_on, pk in chosen)
    for number, (came, pk) in enumerate(stays):
        piece = Piece.objects.select_related("model__calibre", "owner", "boutique").get(pk=pk)
        kind = brought_for(dice)
        if kind is EntryKind.TIGHTNESS_CHECK and not (piece.model and piece.model.rated_bar):
            kind = EntryKind.OVERHAUL
        stay = Stay(dice, piece, came, by, kind)
        stay.go_to(Got.BACK, done_within=min(stay.takes(), LONGEST))
        stay.give_back()
        progress("The workshop's past", number, len(stays))


def fill_the_workshop(dice: random.Random, today: date, pieces: Sequence[Piece], by: People) -> None:
    """The orders that are in the workshop now, each as far as it got; most of those whose day is over are ready."""
    days = sorted(_worked(today - timedelta(days=dice.randint(2, 14))) for _piece in pieces)
    for came, piece in zip(days, pieces, strict=True):
        stay, got = Stay(dice, piece, came, by), how_far(dice)
        so_far, takes = max(2, (today - came).days), stay.takes()
        if takes <= so_far and dice.random() < READY_IN_TIME:
            stay.go_to(dice.choice((Got.READY, Got.BACK)), done_within=takes)
            if takes < so_far - 3:
                stay.give_back()
        else:
            stay.go_to(got, done_within=so_far)


class Stay:
    """One piece from its drop-off on; every deed is the one that the counter and the bench do."""

    def __init__(
        self, dice: random.Random, piece: Piece, came: date, by: People, kind: EntryKind = EntryKind.OVERHAUL
    ) -> None:
        self.dice, self.piece, self.by, self.came, self.kind = dice, piece, by, came, kind
        assert piece.boutique is not None  # only pieces that a boutique sold are brought
        asked = [one for one, ordered in ORDERED.items() if ordered is kind]
        self.offer = counter.offered(piece, piece.boutique, asked, came)
        noted = counter.noted(dice, piece, piece.boutique, asked, came, self.offer)
        drop_off = take_in(
            piece, form_key=uuid4(), boutique=piece.boutique, by=by["counter"], taken_on=came, at=_at(came, 11),
            as_of=came, asked=asked, owner_says=OWNER_SAYS[kind], left_with="Pouch",
            sitting=Sitting(intake_readings(dice), INSTRUMENT), noted=noted,
        )  # fmt: skip
        self.order = WorkOrder.objects.get(number=drop_off.number)
        self.found: list[Found] = []

    def takes(self) -> int:
        """Days that the stay takes, so that it is ready near what the counter worked out. Where it worked nothing out: some weeks."""
        if self.offer.half_by is None or self.offer.nine_in_ten_by is None:
            return self.dice.randint(12, 34)
        days = days_until_ready(self.dice, self.came, self.offer.half_by, self.offer.nine_in_ten_by)
        return round(days / READY_AT)

    def go_to(self, got: Got, *, done_within: int) -> None:
        """Bring the order as far as it got; its steps lie within so many days."""
        self.days = done_within
        self._move(Step.RECEIVED, 0.1)
        if got is Got.RECEIVED:
            return
        if self.kind is not EntryKind.TIGHTNESS_CHECK:
            self._at_the_bench(got)
            if got in BEFORE_CONTROL:
                return
        self._move(Step.UNDER_CONTROL, 0.8)
        self._measure()
        if got is Got.UNDER_CONTROL:
            return
        self._finish([one for one in unfinished_of(self.order) if one in AT_CONTROL], 0.9)
        self._let_go()
        if got is Got.BACK:
            bring_to_boutique(self.order, at=self._when(0.98), by=self.by["bench"])

    def _at_the_bench(self, got: Got) -> None:
        self._diagnose(asks=got in (Got.ASKED, Got.DECLINED))
        if got in (Got.DIAGNOSED, Got.ASKED, Got.DECLINED):
            self._ask(got)
            return
        self._move(Step.ON_THE_BENCH, 0.3)
        self._work(got)

    def give_back(self) -> None:
        """The owner fetches it, two days later at the most."""
        day = self._day(1.0) + timedelta(days=self.dice.randint(0, 2))
        hand_back_order(self.order, on=day, at=_at(day, 16), by=self.by["counter"], as_of=day)

    def _move(self, step: Step, share: float, *, asks: bool | None = None) -> None:
        at, on = self._when(share), self._day(share)
        self.order = move_order(self.order, step, at=at, on=on, by=self.by["bench"], asks_owner=asks)

    def _let_go(self) -> None:
        """Ready; a movement whose figures stay outside their limits is let go with the reason, as benches do."""
        at, on = self._when(READY_AT), self._day(READY_AT)
        try:
            self.order = move_order(self.order, Step.READY, at=at, on=on, by=self.by["bench"])
        except NotReady as tired:
            if not only_limits(tired.missing):
                raise
            self.order = move_order(self.order, Step.READY, at=at, on=on, by=self.by["bench"], reason=TIRED)

    def _diagnose(self, *, asks: bool) -> None:
        self._finish([Operation.DIAGNOSIS], 0.15)
        country = self.piece.boutique.country if self.piece.boutique else ""
        for one in self.dice.sample(FOUND, self.dice.randint(1, 3)):
            add_finding(
                self.order, one.finding, what=one.what, country=country, on=self._day(0.15), at=self._when(0.15),
                by=self.by["bench"], form_key=uuid4(),
            )  # fmt: skip
            self.found.append(one)
        self._move(Step.DIAGNOSED, 0.16, asks=asks)

    def _ask(self, got: Got) -> None:
        if got is Got.DIAGNOSED:
            return
        day = self._day(0.3)
        estimate = write_estimate(
            self.order,
            estimate_lines(self.piece.owner),
            currency=settings.HOUSE_CURRENCY, valid_until=day + timedelta(days=ESTIMATE_DAYS), note="",
            on=day, at=self._when(0.3), by=self.by["desk"], form_key=uuid4(),
        )  # fmt: skip
        if got is Got.DECLINED:
            answer_estimate(
                estimate, agreed=False, heard=Heard.TELEPHONE, heard_by=self.by["desk"], on=self._day(0.5),
                at=self._when(0.5),
            )  # fmt: skip

    def _work(self, got: Got) -> None:
        todo = [one for one in unfinished_of(self.order) if one not in AT_CONTROL]
        if got is Got.ON_THE_BENCH:
            todo = todo[: self.dice.randint(0, 4)]
        if got is Got.RESTING:
            todo = todo[: todo.index(Operation.ASSEMBLY) + 1]
        self._finish(todo, 1.0 if got is Got.RESTING else 0.7)
        for one in self.found:
            fitting = Part.objects.filter(sort=one.uses) if one.uses else Part.objects.none()
            calibre = self.piece.model.calibre if self.piece.model else None
            part = fitting.filter(calibre=calibre).first() or fitting.filter(calibre=None).first()
            if part:
                use_part(self.order, part, 1, at=self._when(0.5), by=self.by["bench"], form_key=uuid4())

    def _finish(self, operations: Sequence[Operation], share: float) -> None:
        planned = dict(self.order.operations.values_list("operation", "minutes"))
        for operation in operations:
            finish_operation(
                self.order, operation, minutes=minutes_spent(self.dice, planned[operation.value]),
                at=self._when(share), by=self.by["bench"], form_key=uuid4(),
            )  # fmt: skip

    def _measure(self) -> None:
        day = self._day(0.85)
        record_sheet(self.piece, readings_after(self.dice), taken_on=day, by=self.by["bench"], instrument=INSTRUMENT)
        if not (self.piece.model and self.piece.model.rated_bar):
            return
        run = begin_run(self.piece, form_key=uuid4(), on=day, by=self.by["bench"])
        for planned in plan_of_run(run):
            add_result(
                run, planned.test, Tested(True, planned.bar, planned.minutes, None, ""), by=self.by["bench"], as_of=day
            )

    def _day(self, share: float) -> date:
        return _worked(self.came + timedelta(days=round(self.days * share)))

    def _when(self, share: float) -> datetime:
        return _at(self._day(share), 14)


def _worked(day: date) -> date:
    return day - timedelta(days=max(0, day.weekday() - 4))


def _at(day: date, hour: int) -> datetime:
    return min(datetime.combine(day, time(hour, 20), ZoneInfo("UTC")), timezone.now())


def estimate_lines(owner: Owner | None) -> list[EstimateLine]:
    """What the desk writes on an estimate, in the language of whoever reads it."""
    overhaul, crown = ESTIMATE_LINES[language_of(owner) if owner else FALLBACK]
    return [EstimateLine(overhaul, Decimal(560)), EstimateLine(crown, Decimal(145))]
