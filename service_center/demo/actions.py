"""Building the demo: the book goes in as files like anybody's, and the past is told by the rules of the house."""

import csv
import random
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import groupby
from pathlib import Path
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from service_center.access.actions import leave_trail, make_staff
from service_center.access.models import Staff, Trail
from service_center.access.rules import Role
from service_center.book.actions import move_piece
from service_center.book.models import Boutique, HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind, Place, ServiceKind
from service_center.demo import counter, past, visits
from service_center.demo.rules.book import PIECES, SEED, Book, fernhollow
from service_center.demo.rules.house import ACCOUNTS
from service_center.demo.rules.sheets import INSTRUMENT, Visit, sheet_of
from service_center.exchange.actions import import_book
from service_center.intake.actions import take_in
from service_center.intake.rules import Asked
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.measurements.actions import record_sheet

BEGUN, BUILT = "demo_begun", "demo_built"
IN_THE_WORKSHOP = 34
AT_THE_COUNTERS = 11

# What is being done, how much of how much.
Progress = Callable[[str, int, int], None]


class NotTheDemosBook(Exception):  # noqa: N818  # a refusal, named for what was found
    """The database holds somebody's book, and the demo keeps its hands off it."""


def is_built() -> bool:
    """Whether the demo book stands, whole. Raises NotTheDemosBook where another book does. Three statements."""
    if Trail.objects.filter(deed=BUILT).exists():
        return True
    if Piece.objects.exists() and not Trail.objects.filter(deed=BEGUN).exists():
        raise NotTheDemosBook
    return False


def build(folder: Path, *, today: date, progress: Progress, pieces: int = PIECES) -> None:
    """Write the book's files into `folder`, import them, and tell the past. An interrupted build is taken up again."""
    begun = Trail.objects.filter(deed=BEGUN).first()
    if begun is None:
        begun = leave_trail(by=None, deed=BEGUN, subject="demo:book", after={"today": today.isoformat()})
    # What was begun on another day goes on as of that day, so that the files stay the same.
    today = date.fromisoformat((begun.after or {})["today"])
    progress("The book", 0, 1)
    book = fernhollow(today, pieces=pieces)
    _write_files(folder, book)
    progress("The book", 1, 1)
    _import(folder, today, progress)
    with transaction.atomic():
        by = {account.username: _account(account.username) for account in ACCOUNTS}
        dice = random.Random(f"{SEED} today")
        _keep_sheets(by["bench"], progress)
        past.write_letters(today, progress)
        visits.open_boutiques(today, by=by["desk"])
        counter.set_terms(by["desk"])
        _fill_the_house(dice, today, by)
        visits.book_visits(dice, today)
        leave_trail(by=None, deed=BUILT, subject="demo:book", after={"pieces": len(book["pieces.csv"])})


def _write_files(folder: Path, book: Book) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in book.items():
        with (folder / name).open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)


def _import(folder: Path, today: date, progress: Progress) -> None:
    size = sum(file.stat().st_size for file in folder.glob("*.csv"))
    done = 0

    def count(what: str, read: int) -> None:
        nonlocal done
        done += read
        progress("Import" if what.endswith(".csv") else "Due dates", min(done, size), size)

    result = import_book(folder, dry_run=False, by=None, as_of=today, progress=count)
    if result.faults.count:
        raise ValueError(f"the demo's own book has faults: {result.faults.first[:3]}")


def _account(username: str) -> Staff:
    account = next(one for one in ACCOUNTS if one.username == username)
    known = Staff.objects.filter(username=username).first()
    return known or make_staff(
        username=username,
        password=account.password,
        role=Role(account.role),
        boutique=account.boutique,
        name=account.name,
    )


def _keep_sheets(by: Staff, progress: Progress) -> None:
    """Readings of past visits."""
    dice = random.Random(f"{SEED} sheets")
    visits = list(_visits())
    for number, (piece, visit) in enumerate(visits):
        readings = sheet_of(dice, visit)
        if readings:
            record_sheet(piece, readings, taken_on=visit.done_on, by=by, instrument=INSTRUMENT)
        if number % 500 == 0:
            progress("Readings", number, len(visits))
    progress("Readings", len(visits), len(visits))


def _visits() -> Iterable[tuple[Piece, Visit]]:
    entries = HistoryEntry.objects.select_related("piece").order_by("piece_id", "done_on", "code")
    for piece, told in groupby(entries, key=lambda entry: entry.piece):
        fresh = piece.sold_on or piece.made_on
        for entry in told:
            if fresh is None or EntryKind(entry.kind) is EntryKind.OVERHAUL:
                fresh = entry.done_on
            yield piece, Visit(entry.code, EntryKind(entry.kind), DoneBy(entry.done_by), entry.done_on, fresh)


@dataclass(frozen=True, slots=True)
class _Said:
    asked: Asked
    owner_says: str


SAYINGS = (
    _Said(Asked.OVERHAUL, "Runs a minute fast since the summer, and stops at night."),
    _Said(Asked.OVERHAUL, "Your letter came; time for the overhaul."),
    _Said(Asked.CHECK, "Off to the sea in two weeks. Is it still tight?"),
    _Said(Asked.CHECK, "Fog under the glass after the sauna."),
)


def _fill_the_house(dice: random.Random, today: date, by: dict[str, Staff]) -> None:
    """Pieces that are here now: some on the benches, some taken in at the counters these days."""
    owed = DueDate.objects.filter(held="", due_on__lte=today + timedelta(days=60), piece__owner__isnull=False)
    ids = sorted(set(owed.filter(kind=ServiceKind.OVERHAUL.value).values_list("piece_id", flat=True)))
    chosen = dice.sample(ids, min(len(ids), IN_THE_WORKSHOP + AT_THE_COUNTERS))
    pieces = {
        piece.pk: piece for piece in Piece.objects.select_related("boutique", "model__calibre").filter(pk__in=chosen)
    }
    for number, pk in enumerate(chosen):
        piece = pieces[pk]
        boutique = piece.boutique
        if boutique is None:
            continue
        if number < AT_THE_COUNTERS:
            said = dice.choice(SAYINGS)
            day = _worked(today - timedelta(days=dice.randint(1, 9)))
            take_in(
                piece, form_key=uuid4(), boutique=boutique, by=by["counter"], taken_on=day, at=_at(day, boutique),
                as_of=today, asked=[said.asked], owner_says=said.owner_says, left_with="Pouch", sitting=None,
                noted=counter.noted(dice, piece, boutique, [said.asked], day),
            )  # fmt: skip
        else:
            day = _worked(today - timedelta(days=dice.randint(5, 40)))
            move_piece(
                piece,
                to=Place.WORKSHOP,
                boutique=None,
                at=_at(day, boutique),
                by=by["desk"],
                reason="Sent to the bench",
            )
    recompute(chosen, as_of=today)


def _worked(day: date) -> date:
    return day - timedelta(days=max(0, day.weekday() - 4))


def _at(day: date, boutique: Boutique) -> datetime:
    return min(datetime.combine(day, time(11, 20), ZoneInfo(boutique.time_zone)), timezone.now())
