"""Arguments and words that bringing a backup back has in common, whoever did it."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

from service_center.keeping.actions import Journals, JournalsReplayed

UNHEARD = (
    "No sent journal was here or named: what went out after the backup is not known. Look into the mail server's own log "
    "before the held letters go."
)


def add_journals(parser: ArgumentParser) -> None:
    """`--erasures FILE`, as often as there are machines."""
    parser.add_argument(
        "--erasures", action="append", default=[], type=Path, metavar="FILE", help="an erasure journal; repeat it"
    )


def there(sent: list[Path], erased: list[Path]) -> Journals:
    """The journals that were named. Raises CommandError for one that is not there."""
    for file in (*sent, *erased):
        if not file.is_file():
            raise CommandError(f"{file}: no such file", returncode=2)
    return Journals(list(sent), list(erased))


def told(done: JournalsReplayed) -> dict[str, Any]:
    """What was held and what the journals knew, in numbers."""
    return {
        "held": done.held.held,
        "in_doubt": done.held.in_doubt,
        "marked_sent": done.sent.marked,
        "written_as_sent": done.sent.written,
        "known": done.sent.known,
        "unknown": len(done.sent.unknown),
        "erased_again": len(done.erased.erased),
        "erased_known": done.erased.known,
        "erased_kept": done.erased.kept,
        "erased_unlike": len(done.erased.unlike),
    }


def in_words(done: JournalsReplayed) -> list[str]:
    """The same for a person."""
    erased = done.erased
    held, sent = done.held, done.sent
    letters = (
        f"Letters: {held.held:,} held for the desk, {held.in_doubt:,} in doubt; of those that went out since "
        f"{sent.marked:,} are marked as sent and {sent.written:,} written as sent"
    )
    return [
        letters,
        f"Erasures: {len(erased.erased):,} owners erased again, {erased.kept:,} kept as erased whom the backup lacks",
    ]
