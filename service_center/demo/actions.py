"""Building the demo: the book goes in as files like anybody's, and the past is told by the rules of the house."""

import csv
import random
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from itertools import groupby
from pathlib import Path
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from service_center.access.actions import leave_trail, make_staff
from service_center.access.models import Staff, Trail
from service_center.access.rules import Role
from service_center.book.models import Boutique, HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind, ServiceKind, Status, Tightness
from service_center.demo import answered, benches, counter, forecasts, past, visits, workshop
from service_center.demo.rules.book import PIECES, SEED, Book, fernhollow
from service_center.demo.rules.house import ACCOUNTS
from service_center.demo.rules.sheets import COURSES, INSTRUMENT, Visit, sheet_of, sheets_of_a_course, takes_a_course
from service_center.exchange.actions import import_book
from service_center.intake.actions import take_in
from service_center.intake.rules import Asked
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.measurements.actions import record_sheet
from service_center.measurements.models import TimingSheet
from service_center.measurements.queries import readings_of
from service_center.pieces.actions import correct_sheet, record_entry, strike_entry
from service_center.planning.actions import tick as work_out_the_weeks

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
        recompute(None, as_of=today)
        counter.set_terms(by["desk"])
        benches.set_up(today, bench=by["bench"], by=by["desk"])
        workshop.fill_the_shelf(today, by)
        workshop.order_parts(today, by)
        workshop.tell_past_stays(dice, today, by, progress)
        past.write_letters(today, progress)
        answered.tell_answered_letters(random.Random(f"{SEED} answered"), today)
        visits.open_boutiques(today, by=by["desk"])
        _fill_the_house(dice, today, by)
        _mend_the_books(today, by)
        visits.book_visits(dice, today)
        forecasts.tell_past_forecasts(today)
        work_out_the_weeks(as_of=today, now=timezone.now())
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
        email=f"{account.username}@{settings.MAIL_FROM.rpartition('@')[2]}",
    )


def _keep_sheets(by: Staff, progress: Progress) -> None:
    """Readings of past visits."""
    dice = random.Random(f"{SEED} sheets")
    visits = list(_visits())
    told = _keep_courses(dice, visits, by)
    for number, (piece, visit) in enumerate(visits):
        readings = sheet_of(dice, visit)
        if readings and piece.pk not in told:
            record_sheet(piece, readings, taken_on=visit.done_on, by=by, instrument=INSTRUMENT)
        if number % 500 == 0:
            progress("Readings", number, len(visits))
    progress("Readings", len(visits), len(visits))


def _keep_courses(dice: random.Random, visits: list[tuple[Piece, Visit]], by: Staff) -> set[int]:
    """Pieces of Harrowmere that came every year, with the readings of all their visits; the latest visitors first."""
    since_fresh = []
    for piece, told in groupby(visits, key=lambda one: one[0]):
        every = [visit for _piece, visit in told]
        lately = [visit for visit in every if visit.done_on > visit.fresh_since == every[-1].fresh_since]
        if piece.status == Status.IN_USE and piece.owner_id and takes_a_course(lately):
            since_fresh.append((piece, lately))
    at_home = [one for one in since_fresh if one[0].boutique and one[0].boutique.code == "HAR"]
    at_home.sort(key=lambda one: (one[1][-1].done_on, one[0].serial), reverse=True)
    chosen = list(zip(at_home, COURSES, strict=False))
    for (piece, lately), course in chosen:
        for visit, readings in sheets_of_a_course(dice, lately, course):
            record_sheet(piece, readings, taken_on=visit.done_on, by=by, instrument=INSTRUMENT)
    return {piece.pk for (piece, _lately), _course in chosen}


def _mend_the_books(today: date, by: dict[str, Staff]) -> None:
    """Mistakes that somebody found: a strap written to the wrong piece, a check on the wrong day, a figure misread."""
    entries = HistoryEntry.objects.filter(piece__boutique__code="HAR", done_by=DoneBy.OWN.value).order_by(
        "-done_on", "pk"
    )
    strap = entries.filter(kind=EntryKind.STRAP.value).first()
    if strap:
        strike_entry(
            strap, reason="The strap was another piece's; both lay on the same tray.", by=by["desk"], as_of=today
        )
    check = entries.filter(kind=EntryKind.TIGHTNESS_CHECK.value, tightness=Tightness.PASSED.value)[1:2].first()
    if check:
        record_entry(
            check.piece, done_on=check.done_on - timedelta(days=1), kind=EntryKind.TIGHTNESS_CHECK,
            case_opened=check.case_opened, tightness=Tightness.PASSED, done_by=DoneBy.OWN, accepted=None,
            note=check.note, by=by["desk"], as_of=today, corrects=check,
            why="The test ran the evening before; the entry was written the next morning.",
        )  # fmt: skip
    sheet = (
        TimingSheet.objects.filter(piece__boutique__code="HAR", piece__status=Status.IN_USE)
        .order_by("-taken_on", "-pk")[4:5]
        .first()
    )
    if sheet:
        first, *others = readings_of(sheet)
        mended = replace(first, amplitude=None if first.amplitude is None else first.amplitude + 20)
        correct_sheet(
            sheet, [mended, *others], taken_on=sheet.taken_on, by=by["bench"], as_of=today,
            why=f"{first.position}: the amplitude was misread by 20 degrees.",
        )  # fmt: skip


def _visits() -> Iterable[tuple[Piece, Visit]]:
    pieces = {piece.pk: piece for piece in Piece.objects.select_related("boutique")}
    entries = HistoryEntry.objects.order_by("piece_id", "done_on", "code")
    rows = entries.values_list("piece_id", "code", "kind", "done_by", "done_on")
    for piece_id, told in groupby(rows, key=lambda row: row[0]):
        piece = pieces[piece_id]
        fresh = piece.sold_on or piece.made_on
        for _piece, code, kind, done_by, done_on in told:
            if fresh is None or EntryKind(kind) is EntryKind.OVERHAUL:
                fresh = done_on
            yield piece, Visit(code, EntryKind(kind), DoneBy(done_by), done_on, fresh)


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
        piece.pk: piece
        for piece in Piece.objects.select_related("boutique", "owner", "model__calibre").filter(pk__in=chosen)
    }
    days_taken_in = sorted(_worked(today - timedelta(days=dice.randint(1, 4))) for _number in range(AT_THE_COUNTERS))
    sent: list[Piece] = []
    for number, pk in enumerate(chosen):
        piece = pieces[pk]
        boutique = piece.boutique
        if boutique is None:
            continue
        if number < AT_THE_COUNTERS:
            said = dice.choice(SAYINGS)
            day = days_taken_in[number]
            take_in(
                piece, form_key=uuid4(), boutique=boutique, by=by["counter"], taken_on=day, at=_at(day, boutique),
                as_of=today, asked=[said.asked], owner_says=said.owner_says, left_with="Pouch", sitting=None,
                noted=counter.noted(dice, piece, boutique, [said.asked], day),
            )  # fmt: skip
        else:
            sent.append(piece)
    workshop.fill_the_workshop(dice, today, sent, by)
    recompute(chosen, as_of=today)


def _worked(day: date) -> date:
    return day - timedelta(days=max(0, day.weekday() - 4))


def _at(day: date, boutique: Boutique) -> datetime:
    return min(datetime.combine(day, time(11, 20), ZoneInfo(boutique.time_zone)), timezone.now())
