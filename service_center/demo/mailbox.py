"""The demo's own mail server on loopback, and the folder in which its mail lies. No letter leaves the machine."""

import email
import email.policy
import os
import re
import time
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from pathlib import Path

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

KEY = re.compile(r"\d{19}-\d+")  # nanoseconds since 1970, and a number for two at once


class MailSink:
    """Takes every letter and keeps it as a file, in a thread, until stopped."""

    def __init__(self, folder: Path, port: int) -> None:
        self._controller = Controller(_Keep(folder), hostname="127.0.0.1", port=port, ident="demo mail sink")

    def start(self) -> None:
        """Listen. Raises OSError when the port is taken."""
        self._controller.start()

    def stop(self) -> None:
        """Stop listening; what arrived stays."""
        self._controller.stop(no_assert=True)


class _Keep:
    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._count = 0

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802  # aiosmtpd's
        self._folder.mkdir(parents=True, exist_ok=True)
        self._count += 1
        key = f"{time.time_ns():019d}-{self._count}"
        unfinished = self._folder / f".{key}"
        unfinished.write_bytes(envelope.original_content or b"")
        unfinished.rename(self._folder / f"{key}.eml")
        return f"250 2.0.0 kept as {key}"


@dataclass(frozen=True, slots=True)
class Mail:
    """One mail as it arrived."""

    key: str
    arrived_at: datetime
    message: EmailMessage

    @property
    def plain(self) -> str:
        """Its text for people and programs that want no HTML."""
        return self._body("plain")

    @property
    def html(self) -> str:
        """Its HTML, or nothing."""
        return self._body("html")

    def _body(self, kind: str) -> str:
        part = self.message.get_body(preferencelist=(kind,))
        return str(part.get_content()) if part else ""


def keys(folder: Path, *, before: str = "", limit: int = 50) -> list[str]:
    """The keys of what arrived, newest first, at most `limit`, those older than `before` if it is given."""
    names = (entry.name.removesuffix(".eml") for entry in os.scandir(folder)) if folder.is_dir() else iter(())
    found = sorted((name for name in names if KEY.fullmatch(name) and (not before or name < before)), reverse=True)
    return found[:limit]


def mail(folder: Path, key: str) -> Mail | None:
    """One mail, or None when there is none of that key."""
    file = folder / f"{key}.eml"
    if not KEY.fullmatch(key) or not file.is_file():
        return None
    message = email.message_from_bytes(file.read_bytes(), policy=email.policy.default)
    return Mail(key=key, arrived_at=datetime.fromtimestamp(int(key[:10])).astimezone(), message=message)
