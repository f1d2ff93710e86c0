"""The whole site in one go: web, worker and schedule, until Ctrl-C or SIGTERM."""

import logging
import signal
import socket
import sys
from collections.abc import Callable, Sequence
from typing import Any, Protocol

from django.core.handlers.wsgi import WSGIHandler
from django.core.management import call_command
from django.core.wsgi import get_wsgi_application
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from gunicorn.app.base import BaseApplication

from service_center.serving.background import Background
from service_center.serving.queries import pending_migrations

THREADS = 8
PATIENCE_SECONDS = 20.0  # for the task in hand, once asked to stop


class PortTaken(Exception):  # noqa: N818  # a refusal, named for what was found
    """Somebody listens there already."""


class Companion(Protocol):
    """Something that lives and ends with the site, such as the demo's mail sink."""

    def start(self) -> None:
        """Begin, in the process that answers the web."""

    def stop(self) -> None:
        """End; called after the worker has stopped."""


def bring_up_to_date(say: Callable[[str], object]) -> None:
    """Run migrations that are pending, saying so, and gather the static files."""
    pending = pending_migrations()
    if pending:
        say(f"Bringing the database up to date: {len(pending)} migrations.")
        call_command("migrate", interactive=False, verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)


def check_port(host: str, port: int) -> None:
    """Raise PortTaken when nobody could listen there."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise PortTaken(f"{host}:{port}: {error.strerror}") from error


def run_site(*, host: str, port: int, on_ready: Callable[[], None], companions: Sequence[Companion] = ()) -> None:
    """Serve until told to stop; does not return, since gunicorn ends the process. `on_ready` runs once it listens."""
    connections.close_all()  # the web's process is a fork of this one, and must not share a connection with it
    _OneProcess(host=host, port=port, on_ready=on_ready, companions=companions).run()


def kept_open() -> BaseDatabaseWrapper | None:
    """On SQLite, a connection that stays open while the site is served; its owner closes it.

    Whoever closes the last one takes the write-ahead log away, and the next has to make it anew: on a full disk nobody
    could even read then.
    """
    if connection.vendor != "sqlite":
        return None
    keeper = connections.create_connection(DEFAULT_DB_ALIAS)
    with keeper.cursor() as cursor:
        cursor.execute("PRAGMA schema_version")
    return keeper


class _OneProcess(BaseApplication):  # type: ignore[misc]  # gunicorn ships no types
    """gunicorn with one process of eight threads, in which the worker and the schedule live too.

    gunicorn's own first process only watches: should that one process die, it starts another, whole.
    """

    def __init__(self, *, host: str, port: int, on_ready: Callable[[], None], companions: Sequence[Companion]) -> None:
        self._address = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
        self._on_ready = on_ready
        self._companions = companions
        self._background: Background | None = None
        self._kept_open: BaseDatabaseWrapper | None = None
        super().__init__()

    def load_config(self) -> None:
        for name, value in {
            "bind": self._address,
            "workers": 1,
            "worker_class": "gthread",
            "threads": THREADS,
            "graceful_timeout": int(PATIENCE_SECONDS) + 5,
            "loglevel": "warning",
            "control_socket_disable": True,
            "preload_app": True,
            "when_ready": lambda _arbiter: self._on_ready(),
            "post_worker_init": self._begin,
            "worker_exit": self._end,
        }.items():
            self.cfg.set(name, value)

    def load(self) -> WSGIHandler:
        return get_wsgi_application()

    def _begin(self, _worker: Any) -> None:
        # Ctrl-C reaches every process of the terminal. The watching one passes it on, once; twice would cut
        # the end short.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        for companion in self._companions:
            companion.start()
        self._kept_open = kept_open()
        self._background = Background()
        self._background.start()

    def _end(self, _arbiter: Any, _worker: Any) -> None:
        if self._background is None:
            return
        if not self._background.stop(patience=PATIENCE_SECONDS):
            logging.getLogger(__name__).warning("The task in hand took longer than %s seconds", PATIENCE_SECONDS)
        for companion in reversed(self._companions):
            companion.stop()
        if self._kept_open:
            self._kept_open.close()
        connections.close_all()
        sys.stderr.flush()
