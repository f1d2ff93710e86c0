"""Pieces that were taken in before there were work orders, and are still with us, get theirs from their drop-off."""

from decimal import Decimal

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

from service_center.book.rules import Complexity, EntryKind
from service_center.intake.rules import ORDERED, Asked
from service_center.workshop.orders.rules.kinds import kind_of
from service_center.workshop.orders.rules.operations import Operation, times_for

AT_ONCE = 500


def open_orders(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    drop_offs = apps.get_model("intake", "DropOff").objects
    found = (
        drop_offs.exclude(piece__place="owner")
        .filter(piece__orders=None)
        .select_related("piece__model__calibre", "move")
        .order_by("piece", "-pk")
    )
    latest = {}
    for drop_off in found.iterator(chunk_size=AT_ONCE):
        latest.setdefault(drop_off.piece_id, drop_off)
    for drop_off in latest.values():
        _open(apps, drop_off)


def _open(apps: StateApps, drop_off) -> None:  # type: ignore[no-untyped-def]  # a historical model has no type
    piece = drop_off.piece
    calibre = piece.model.calibre if piece.model else None
    complexity = calibre.complexity if calibre else ""
    kind = kind_of([ORDERED[Asked(one)] for one in drop_off.asked])
    estimate = drop_off.estimate
    whole = bool(estimate) and all(line["amount"] is not None for line in estimate["lines"])
    signed = apps.get_model("intake", "Signature").objects.filter(drop_off=drop_off).exists()
    order = apps.get_model("workshop", "WorkOrder").objects.create(
        number=drop_off.number,
        piece=piece,
        owner_id=drop_off.owner_id,
        boutique_id=drop_off.boutique_id,
        kind=kind.value,
        complexity=complexity,
        opened_on=drop_off.taken_on,
        opened_at=drop_off.move.since,
        opened_by_id=drop_off.taken_by_id,
        promised_on=drop_off.promised_on,
        step="logged",
        step_since=drop_off.move.since,
        agreed_total=_total(estimate) if whole and signed else None,
        agreed_currency=estimate["currency"] if whole and signed else "",
        sheet_before_id=drop_off.sheet_id,
    )
    apps.get_model("workshop", "OrderMove").objects.create(
        order=order, step="logged", at=drop_off.move.since, by_id=drop_off.taken_by_id, place=drop_off.move.place
    )
    _plan(apps, order, kind, Complexity(complexity) if complexity else None, rated=bool(piece.model and piece.model.rated_bar))


def _plan(apps: StateApps, order, kind: EntryKind, complexity: Complexity | None, *, rated: bool) -> None:  # type: ignore[no-untyped-def]
    lines = apps.get_model("workshop", "OrderOperation")
    times = times_for(kind, complexity, {}, rated=rated)
    lines.objects.bulk_create(
        lines(order=order, operation=Operation(one).value, position=at, minutes=time.minutes, wait_hours=time.wait_hours)
        for at, (one, time) in enumerate(times.items())
    )


def _total(estimate):  # type: ignore[no-untyped-def]
    return sum((Decimal(line["amount"]) for line in estimate["lines"]), Decimal(0))


class Migration(migrations.Migration):
    dependencies = [
        ("intake", "0006_signatures_are_insert_only"),
        ("workshop", "0002_facts_are_insert_only"),
    ]

    operations = [migrations.RunPython(open_orders, migrations.RunPython.noop)]
