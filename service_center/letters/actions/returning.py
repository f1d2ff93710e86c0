"""Reading what came back: messages from a mailbox or a folder, and the provider's calls. Each counts once."""

import hashlib
import logging
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.db.models.functions import Now

from service_center.letters.actions.reporting import Said, conclude_what_is_left, report
from service_center.letters.models import ProviderCall, ReportBox, ReturnedMail
from service_center.letters.returned import provider
from service_center.letters.returned.folder import NoFolder, messages_in
from service_center.letters.returned.mailbox import Mailbox, NoMailbox, Place
from service_center.letters.returned.reading import read
from service_center.letters.rules.bounces import fault_told
from service_center.letters.rules.codes import Status
from service_center.letters.rules.return_path import letter_named_in
from service_center.letters.rules.words import FoundInMail, ReportSource

logger = logging.getLogger(__name__)

LOOK_EVERY = timedelta(minutes=5)
# Of a report all that matters; of anything else enough for a person to see what it was.
RAW_OF_A_REPORT, RAW_OF_OTHERS = 65_536, 2_048
SECONDS_A_LOOK = 10.0
CALLS_AT_ONCE = 500
OLDEST_YEAR = 2000


@dataclass(slots=True)
class Looked:
    """What one look found. `known`: read before. `trouble`: what kept us from reading on, if anything."""

    found: dict[FoundInMail, int] = field(default_factory=lambda: dict.fromkeys(FoundInMail, 0))
    known: int = 0
    trouble: str = ""


def read_returned(*, now: datetime, folder: Path | None = None, may_go_on: Callable[[], bool] = lambda: True) -> Looked:
    """Read a folder, or the places that the settings name. Never raises for a place that is away: see `trouble`."""
    looked = Looked()
    if folder is not None:
        _read_folder(folder, looked, now, may_go_on)
    else:
        if settings.BOUNCE_MAILBOX_URL:
            _read_mailbox(looked, now, may_go_on)
        if settings.BOUNCE_FOLDER:
            _read_folder(Path(settings.BOUNCE_FOLDER), looked, now, may_go_on)
    conclude_what_is_left()
    return looked


def sweep_returned(*, now: datetime) -> None:
    """What the tick does: the provider's calls, the mailbox when it is due, and what both leave to conclude."""
    read_calls()
    look_when_due(now=now)
    conclude_what_is_left()


def look_when_due(*, now: datetime) -> Looked | None:
    """Look every five minutes, for a few seconds, one process of many at a time. None: it was not due."""
    if not (settings.BOUNCE_MAILBOX_URL or settings.BOUNCE_FOLDER) or not _my_turn():
        return None
    until = time.monotonic() + SECONDS_A_LOOK
    looked = read_returned(now=now, may_go_on=lambda: time.monotonic() < until)
    if looked.trouble:
        logger.warning("What came back could not be read: %s", looked.trouble)
    return looked


def _my_turn() -> bool:
    ReportBox.objects.bulk_create([ReportBox(name="turn")], ignore_conflicts=True)
    due = Q(looked_at=None) | Q(looked_at__lt=Now() - LOOK_EVERY)
    return ReportBox.objects.filter(due, name="turn").update(looked_at=Now()) == 1


def _read_folder(folder: Path, looked: Looked, now: datetime, may_go_on: Callable[[], bool]) -> None:
    trouble = ""
    try:
        _take_all(messages_in(folder), looked, now, may_go_on)
    except NoFolder as error:
        trouble = str(error)
    _note_look("folder", trouble, looked)


def _read_mailbox(looked: Looked, now: datetime, may_go_on: Callable[[], bool]) -> None:
    trouble, name = "", "mailbox"
    try:
        place = Place.from_url(settings.BOUNCE_MAILBOX_URL)
        name = place.name
        with Mailbox(place) as mailbox:
            box, _made = ReportBox.objects.get_or_create(name=name)
            # Another validity means other numbers: everything is read anew, and what was read before is known.
            begin = box.read_up_to if box.validity == mailbox.validity else 0
            for number, raw in mailbox.messages_after(begin):
                if not may_go_on():
                    break
                _count(take_mail(raw, came_at=now), looked)
                ReportBox.objects.filter(pk=box.pk).update(validity=mailbox.validity, read_up_to=number)
    except NoMailbox as error:
        trouble = str(error)
    _note_look(name, trouble, looked)


def _note_look(name: str, trouble: str, looked: Looked) -> None:
    ReportBox.objects.update_or_create(name=name, defaults={"looked_at": Now(), "trouble": trouble})
    looked.trouble = looked.trouble or trouble


def _take_all(messages: Iterable[bytes], looked: Looked, now: datetime, may_go_on: Callable[[], bool]) -> None:
    for raw in messages:
        if not may_go_on():
            return
        _count(take_mail(raw, came_at=now), looked)


def _count(found: FoundInMail | None, looked: Looked) -> None:
    if found is None:
        looked.known += 1
    else:
        looked.found[found] += 1


def take_mail(raw: bytes, *, came_at: datetime) -> FoundInMail | None:
    """Take in one message that came to a return path. What it was; None where it was taken in before."""
    message = read(raw, secrets=[settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS])
    kept = RAW_OF_A_REPORT if message.found is FoundInMail.REPORT else RAW_OF_OTHERS
    with transaction.atomic():
        mail, is_new = ReturnedMail.objects.get_or_create(
            key=message.key, defaults={"came_at": came_at, "found": message.found.value, "raw": raw[:kept]}
        )
        if not is_new:
            return None
        for told in message.told:
            report(
                Said(
                    letter=message.letter or 0,
                    source=ReportSource.MAIL,
                    happened=told.happened,
                    at=_when(message.at, came_at),
                    status=told.status,
                    words=told.words,
                    fault=fault_told(told.happened, Status.found_in(told.status)),
                    mail=mail,
                )
            )
    return message.found


def _when(said: datetime | None, came_at: datetime) -> datetime:
    """When something happened, as far as the clock of whoever says so can be believed."""
    return said if said and said.year >= OLDEST_YEAR and said <= came_at else came_at


def take_call(*, content_type: str, body: bytes) -> None:
    """Keep a call whose signature was checked, as it came. Read by the sweep; the same call twice is one."""
    ProviderCall.objects.bulk_create(
        [
            ProviderCall(
                provider=settings.MAIL_PROVIDER,
                key=hashlib.sha256(settings.MAIL_PROVIDER.encode() + b"\0" + body).hexdigest(),
                came_at=Now(),
                content_type=content_type[:200],
                body=body,
            )
        ],
        ignore_conflicts=True,
    )


def read_calls() -> int:
    """The sweep: read the calls that wait. How many were read."""
    waiting = ProviderCall.objects.filter(read_at=None).order_by("pk").values_list("pk", flat=True)
    return sum(_read_call(pk) for pk in waiting[:CALLS_AT_ONCE])


@transaction.atomic
def _read_call(pk: int) -> bool:
    """Read one call. False: somebody else does."""
    call = ProviderCall.objects.filter(pk=pk, read_at=None).select_for_update(skip_locked=True, no_key=True).first()
    if call is None:
        return False
    trouble = ""
    try:
        events = provider.events_in(provider=call.provider, content_type=call.content_type, body=bytes(call.body))
    except Exception as error:  # noqa: BLE001  # a call of a form that the library does not know
        events, trouble = [], f"{type(error).__name__}: {error}"[:200]
        logger.warning("The provider's call %s could not be read: %s", pk, type(error).__name__)
    for event in events:
        letter = letter_named_in(event.names, secrets=[settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS])
        if letter is not None:
            report(
                Said(
                    letter=letter,
                    source=ReportSource.PROVIDER,
                    happened=event.happened,
                    at=_when(event.at, call.came_at),
                    status=event.status,
                    words=event.words,
                    fault=event.fault,
                    call=call,
                )
            )
    ProviderCall.objects.filter(pk=pk).update(read_at=Now(), trouble=trouble)
    return True
