"""Telling whoever sends that there may be something to send. A lost ring costs half a minute, never a letter."""

import logging
import threading
from functools import partial

from django.db import transaction

from service_center.celery import SHORT_WAITS, app

logger = logging.getLogger(__name__)

SEND = "letters.send_waiting"
SECONDS = 1.0


def ring(task: str = SEND) -> None:
    """Ring now, for letters or another task. Never raises, and keeps its caller for SECONDS at most: a broker that is frozen holds a thread, no page."""
    bell = threading.Thread(target=_ring, args=[task], name="doorbell", daemon=True)
    bell.start()
    bell.join(SECONDS)


def _ring(task: str) -> None:
    try:
        with app.connection_for_write(transport_options=SHORT_WAITS) as broker:
            app.send_task(task, connection=broker, ignore_result=True, expires=60)
    except Exception as error:  # noqa: BLE001  # whatever a broker's library raises: the sweep comes anyway
        logger.warning("The broker did not take the ring: %s", type(error).__name__)


def ring_after_commit(task: str = SEND) -> None:
    """Ring once the present transaction is written; at once where there is none."""
    transaction.on_commit(partial(ring, task), robust=True)
