"""The worker and the schedule as threads of the web's own process, for a site on one machine.

It is the code that runs as processes on servers (docker-compose.yml); only who starts it differs. Either may
die at any moment: what is to do stands in the database, and the next tick finds it (reliability.md, B1).
"""

import logging
import threading
import time
from typing import Any

from celery.beat import EmbeddedService, Scheduler
from celery.worker import state
from django.db import connections

from service_center.celery import app
from service_center.letters.tasks import tick

logger = logging.getLogger(__name__)

PAUSE_SECONDS = 5.0  # before a worker that ended unasked starts again


class Background:
    """Starts once, stops once: a process that wants them again is a new process."""

    def __init__(self) -> None:
        self._stopping = threading.Event()
        self._worker = threading.Thread(target=self._work, name="worker", daemon=True)
        # The plain scheduler keeps no file: each of its entries means "look", whenever that was last said.
        self._beat: Any = EmbeddedService(app, thread=True, scheduler_cls=Scheduler)

    def start(self) -> None:
        """Start both, and return at once."""
        self._worker.start()
        self._beat.start()

    def stop(self, *, patience: float) -> bool:
        """Ask both to end and wait, at most `patience` seconds; whether they did.

        The task in hand is finished: the sender looks at the same word between two letters.
        """
        until = time.monotonic() + patience
        self._stopping.set()
        state.should_stop = 0  # type: ignore[assignment]  # an exit code, once somebody asks
        self._beat.service.stop(wait=False)
        for thread in (self._beat, self._worker):
            thread.join(max(0.0, until - time.monotonic()))
        return not (self._worker.is_alive() or self._beat.is_alive())

    def _work(self) -> None:
        _look()
        while not self._stopping.is_set():
            try:
                # One at a time, in this thread: on SQLite there is one writer anyway.
                app.WorkController(
                    pool="solo",
                    concurrency=1,
                    use_eventloop=False,
                    without_gossip=True,
                    without_mingle=True,
                    without_heartbeat=True,
                ).start()
            except Exception:
                logger.exception("The worker could not start")
            if not self._stopping.is_set():
                logger.error("The worker ended unasked; it starts again in %s seconds", PAUSE_SECONDS)
                self._stopping.wait(PAUSE_SECONDS)


def _look() -> None:
    """What waited while the site was away is looked at now, not half a minute from now; no broker is asked for it."""
    try:
        tick()
    except Exception:
        logger.exception("The first look failed; the next tick looks again")
    finally:
        connections.close_all()
