"""What the children of a yard do: the product's own actions, over the house that their order names."""

import contextlib
import io
import json
import time
import traceback
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import time_machine
from django.conf import settings
from django.core.files.storage import FileSystemStorage, default_storage
from django.core.management import CommandError, call_command
from django.db import connections, transaction
from django.utils import timezone

from service_center.access.models import Staff
from service_center.book.models import Owner, Piece
from service_center.celery import app
from service_center.letters import actions, doorbell, faults
from service_center.letters.actions import (
    daily_round,
    lost,
    note_existing_customers,
    rounds,
    running,
    send_for_a_while,
    settling,
    tick,
)
from service_center.letters.calendars import working_days
from service_center.letters.composing import letter as compose
from service_center.letters.composing.wording import wording_in
from service_center.letters.models import Letter, Round
from service_center.letters.rules.mornings import round_day
from service_center.letters.rules.unusual import Asked
from service_center.letters.rules.words import LetterState
from service_center.owner_pages.actions import erase
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory, WatchModelFactory

# Long past, so that the letters' morning has come by any clock: sold in May 2012, due after 84 months, invited 60
# days before. A Monday.
SOLD_ON, INVITED_ON = date(2012, 5, 17), date(2019, 3, 18)
# The morning of a working day in a year to come: no word is older than the hold that it ends.
A_MORNING = datetime(2031, 3, 18, 10, tzinfo=UTC)
NOT_OUT = (LetterState.WAITING, LetterState.HANDING_OVER, LetterState.AT_THE_DOT)


def do(order: dict[str, Any]) -> Any:
    """Carry out one order. What it returns is what its caller is told."""
    # No connection is open in the yard; the object that would open one knows the yard's own database.
    connections.settings = connections.configure_settings({"default": order["database"]})
    if hasattr(connections._connections, "default"):
        del connections["default"]
    for name, value in order["settings"].items():
        setattr(settings, name, value)
    settings.DATA_DIR = Path(order["folder"])
    default_storage._wrapped = FileSystemStorage(settings.DATA_DIR / "files")
    settling.DOT_MARGIN_SECONDS = order["dot_margin"]
    faults.plan(order["faults"])
    told = DEEDS[order["deed"]](**order["how"])
    connections.close_all()
    return told


def warm_up() -> None:
    """Load what the first letter would: templates, addresses, words. The children have it then."""
    piece = compose.PieceInLetter(name="Skerry", serial="FH21-000001", rated=False, boutique="", services=())
    content = compose.LetterContent(1, "en", "Ada Winter", INVITED_ON, (piece,), wording_in("en"))
    links = compose.links_for("page", "stop")
    compose.letter_as_mail(
        content, links, to_name="Ada Winter", to_address="ada@owners.example", message_id="<1@house>"
    )
    working_days("GB")(INVITED_ON)


def migrate(*where: str) -> None:
    call_command("migrate", *where, interactive=False, verbosity=0)


def migrate_back(app: str, to: str = "zero") -> None:
    """As it was before an app came, or before what followed one of its migrations."""
    migrate(app, to)


def fill(owners: int, pieces_each: int = 1, first: int = 0, sold_on: str = SOLD_ON.isoformat()) -> None:
    """Owners, numbered from `first`, with pieces that are all due alike, and somebody at the desk."""
    sold = date.fromisoformat(sold_on)
    boutique, model = (
        BoutiqueFactory(code=f"B{first}"),
        WatchModelFactory(reference=f"SK-{first}", calibre__code=f"FH-{first}", rated_bar=None),
    )
    people = Owner.objects.bulk_create(
        OwnerFactory.build(code=f"O{number:05d}", name=f"Ada Winter {number}")
        for number in range(first, first + owners)
    )
    note_existing_customers(on=sold)
    Piece.objects.bulk_create(
        PieceFactory.build(
            serial=f"FH21-{owner.code}-{at}", owner=owner, boutique=boutique, model=model, sold_on=sold, made_on=None
        )
        for owner in people
        for at in range(pieces_each)
    )
    if not Staff.objects.exists():
        StaffFactory(username="ida", role="desk")


def give_password(password: str) -> None:
    """Ida of the desk can sign in."""
    ida = Staff.objects.get(username="ida")
    ida.set_password(password)
    ida.save()


def no_round_today() -> None:
    """The rounds of these days have run: a worker's clock writes no letters of its own."""
    now = timezone.now()
    for offset in (-1, 0, 1, 2):
        Round.objects.create(day=round_day(now) + timedelta(days=offset), started_at=now, finished_at=now)


def a_round(day: str, owners_at_once: int = rounds.OWNERS_AT_ONCE, by: str = "confirmed") -> dict[str, Any]:
    """The daily round of an ISO day, which somebody has looked at unless it is by the clock: tests leap."""
    rounds.OWNERS_AT_ONCE = owners_at_once
    now = datetime(2019, 3, 17, 18, 0, tzinfo=UTC)
    result = daily_round(as_of=date.fromisoformat(day), now=now, asked=Asked(by))
    return {"reminders": result.reminders, "letters": result.letters, "held": result.held}


def send(until_settled: bool = True, at_once: int = running.LARGEST_CLAIM) -> dict[str, Any]:
    """What a worker does: look, hand over what is ready, look again; an error is left to the next look.

    Ends once nothing is on its way any more.
    """
    running.LARGEST_CLAIM = at_once
    told: dict[str, Any] = {"sent": 0, "in_doubt": 0, "refused": 0, "errors": 0}
    while True:
        try:
            result = send_for_a_while(now=timezone.now())
            for name in ("sent", "in_doubt", "refused"):
                told[name] += getattr(result, name)
            if result.trouble:
                told["trouble"] = result.trouble
            if not (until_settled and Letter.objects.filter(state__in=NOT_OUT).exists()):
                return told
        except faults.InjectedFault:
            told["errors"] += 1
            return told
        except Exception:  # noqa: BLE001  # as a worker: whatever it was, the next look comes
            told["errors"] += 1
            with contextlib.suppress(OSError):  # the log's disk may be full
                traceback.print_exc()
            connections.close_all()
        time.sleep(0.1)


def settle_doubt(letter: int, how: str) -> None:
    """Somebody at the desk decides, in the morning."""
    ida = Staff.objects.get(username="ida")
    actions.settle_doubt(Letter.objects.get(pk=letter), actions.Settled(how), by=ida, now=A_MORNING)


def listed(state: str) -> list[dict[str, Any]]:
    """What `list_letters` prints."""
    out = io.StringIO()
    call_command("list_letters", state=state, json=True, stdout=out)
    found: list[dict[str, Any]] = json.loads(out.getvalue())
    return found


def ring(broker: str) -> float:
    """The doorbell, at a broker that may be gone or frozen. How many seconds it held up whoever rang."""
    app.conf.broker_url = broker
    began = time.monotonic()
    doorbell.ring()
    return time.monotonic() - began


def after_restore(go_on: bool = False) -> dict[str, int]:
    """The command of that name, as somebody runs it after bringing a backup back."""
    out = io.StringIO()
    # What is let go late waits for a morning.
    with time_machine.travel(A_MORNING) if go_on else contextlib.nullcontext():
        call_command("after_restore", go_on=go_on, json=True, stdout=out)
    told: dict[str, int] = json.loads(out.getvalue())
    return told


def command(name: str, *arguments: str, **how: Any) -> dict[str, Any]:
    """A command as somebody runs it, with --json: its exit code, what it told, and what it said on stderr."""
    out, said = io.StringIO(), io.StringIO()
    try:
        call_command(name, *arguments, json=True, stdout=out, stderr=said, **how)
    except CommandError as fault:
        return {"code": fault.returncode, "said": f"{said.getvalue()}{fault}"}
    return {"code": 0, "told": json.loads(out.getvalue()), "said": said.getvalue()}


def run(name: str, arguments: list[str]) -> dict[str, Any]:
    """One command."""
    return command(name, *arguments)


def try_all(files: list[str]) -> list[dict[str, Any]]:
    """`verify_backup` of one file after the other."""
    return [command("verify_backup", file) for file in files]


def erase_owner(code: str) -> None:
    """A manager erases an owner."""
    manager = Staff.objects.filter(role="manager").first() or StaffFactory(role="manager")
    now = timezone.now()
    erase(Owner.objects.get(code=code), on=now.date(), by=manager, now=now)


def write_pairs(stop: str, a_second: int = 50) -> int:
    """An owner and their piece in one transaction, so many times a second until a file is there. How many pairs."""
    count = 0
    model, boutique = WatchModelFactory(reference="PAIRS", calibre__code="PAIRS"), BoutiqueFactory(code="PAIRS")
    while not Path(stop).exists():
        with transaction.atomic():
            owner = OwnerFactory(code=f"PAIR-{count:05d}")
            PieceFactory(serial=f"PAIR-{count:05d}", owner=owner, model=model, boutique=boutique)
        count += 1
        time.sleep(1 / a_second)
    return count


def sweep() -> tuple[int, int]:
    """Only the first thing a sender does: letters whose lease ran out."""
    return lost.put_back_the_abandoned()


def beat(ticks: int, day: str) -> dict[str, int]:
    """A clock that ticks: the day's round if it has not run, then what waits."""
    now = datetime.fromisoformat(f"{day}T12:00:00+00:00")
    told = {"sent": 0}
    for _tick in range(ticks):
        told["sent"] += tick(now=now).sent
    return told


DEEDS: dict[str, Callable[..., Any]] = {
    "migrate": migrate,
    "migrate_back": migrate_back,
    "fill": fill,
    "no_round_today": no_round_today,
    "round": a_round,
    "send": send,
    "give_password": give_password,
    "listed": listed,
    "ring": ring,
    "after_restore": after_restore,
    "run": run,
    "try_all": try_all,
    "erase_owner": erase_owner,
    "write_pairs": write_pairs,
    "settle_doubt": settle_doubt,
    "sweep": sweep,
    "beat": beat,
}
