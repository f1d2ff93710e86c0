"""Handing over what waits. Run by hand, by a worker, by many at once: the letters' rows decide who has what."""

import os
import socket
import threading
import time
from collections.abc import Callable
from datetime import date, datetime, timedelta

from celery.worker import state as worker_state
from django.conf import settings
from django.db.models import Q
from django.db.models.functions import Now

from service_center.letters.actions.lost import put_back_the_abandoned
from service_center.letters.actions.running import Asked, Run, SendResult
from service_center.letters.doorbell import ring
from service_center.letters.models import Letter, Sender
from service_center.letters.rules.mornings import end_of
from service_center.letters.rules.words import LetterState

# A worker asked to stop is given half a minute: nobody sends longer than this in one go, and rings again instead.
SECONDS_A_TASK = 20.0
SENDER_ROWS_LAST = timedelta(days=1)


def send_waiting(
    *,
    now: datetime,
    as_of: date | None = None,
    until_empty: bool = False,
    may_go_on: Callable[[], bool] = lambda: True,
    on_letter: Callable[[], object] = lambda: None,
    call_help: Callable[[], object] = lambda: None,
) -> SendResult:
    """Hand over letters whose morning has come: one claim's worth, or all that are ready.

    An invitation that is late, because no sender was there, waits for its owner's next morning.
    `as_of` stands for today: every letter planned up to that day, and whose morning comes by its end, is ready at any
    hour, unless it was put off.
    `may_go_on` is asked between letters; `call_help` is called once when there is more than one sender's handful.
    Never called inside a transaction: each step is written down by itself.
    """
    _freed, in_doubt = put_back_the_abandoned()
    result = SendResult(in_doubt=in_doubt)
    if settings.MAIL_CONFIGURED:
        asked = Asked(_ready(as_of), as_of or now.date(), now, as_of is not None, may_go_on, on_letter, call_help)
        Run(asked, result, by=sender_name()).go(until_empty=until_empty)
        _note_look(result.trouble)
    else:
        result.not_configured = True
    result.waiting = Letter.objects.filter(state=LetterState.WAITING).count()
    return result


def _ready(as_of: date | None) -> Q:
    if as_of is None:
        return Q(not_before__lte=Now())
    # A letter that was put off rests as long as it is told to: the mail server knows of no other day.
    rested = Q(temporary_refusals=0) | Q(not_before__lte=Now())
    return rested & Q(planned_on__lte=as_of, not_before__lt=end_of(as_of))


def send_for_a_while(*, now: datetime) -> SendResult:
    """What a worker does when it is rung: all that is ready, but no longer than a worker may take to stop.

    Where there is more than a handful it rings once itself, so that a free process of the worker joins in.
    """
    until = time.monotonic() + SECONDS_A_TASK
    return send_waiting(
        now=now,
        until_empty=True,
        may_go_on=lambda: time.monotonic() < until and not worker_is_stopping(),
        call_help=ring,
    )


def worker_is_stopping() -> bool:
    """Whether the worker in whose process this runs was asked to end. An exit code of 0 is an answer too."""
    return any(asked is not None and asked is not False for asked in (worker_state.should_stop, _terminate()))


def _terminate() -> object:
    return worker_state.should_terminate


def sender_name() -> str:
    """Which process and thread has a letter in hand."""
    return f"{socket.gethostname()[:60]}-{os.getpid()}-{threading.get_ident() % 100_000}"


def _note_look(trouble: str) -> None:
    Sender.objects.filter(looked_at__lt=Now() - SENDER_ROWS_LAST).delete()
    Sender.objects.update_or_create(
        name=f"{socket.gethostname()[:60]}-{os.getpid()}", defaults={"looked_at": Now(), "trouble": trouble}
    )
