"""What happened after a backup was made, from the journals: letters that went out, and owners who were erased."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from service_center.letters import journal
from service_center.letters.actions import HeldBack, Replayed, hold_waiting, replay
from service_center.letters.rules.journal import Gone
from service_center.owner_pages import erasure_journal
from service_center.owner_pages.actions import ErasedAgain, hold_notices, replay_erasures
from service_center.owner_pages.rules.erased import Erased

Say = Callable[[str], object]


@dataclass(frozen=True, slots=True)
class Journals:
    """The files to read: sent journals and erasure journals of every machine of the house."""

    sent: list[Path] = field(default_factory=list)
    erased: list[Path] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class JournalsReplayed:
    """What was held, and what each kind of journal knew."""

    held: HeldBack
    sent: Replayed
    erased: ErasedAgain


def of_this_machine() -> Journals:
    """This machine's own journals, those that are there."""
    return Journals(
        sent=[one for one in (journal.file(),) if one.is_file()],
        erased=[one for one in (erasure_journal.file(),) if one.is_file()],
    )


def replay_journals(journals: Journals, *, now: datetime, complain: Say) -> JournalsReplayed:
    """Hold what waits, mark what went out, erase who was erased. May be repeated. `complain`: hears what was odd.

    Letters first: an owner who is erased has no address left to be held against.
    """
    held = hold_waiting()
    hold_notices()
    sent = replay(_gone(journals.sent, complain))
    for message_id in sent.unknown:
        complain(f"{message_id}: went out to an owner, or about a piece, that the book does not have")
    erased = replay_erasures(_erased(journals.erased, complain), now=now)
    for code in erased.unlike:
        complain(
            f"owner {code}: was erased, but the book has somebody else under that code: nothing was erased. Look, and "
            "erase them by hand if it is they"
        )
    for code in erased.here:
        complain(f"owner {code}: erased again; the book has a piece of theirs in the house, which it had not then")
    return JournalsReplayed(held, sent, erased)


def _gone(files: list[Path], complain: Say) -> Iterator[Gone]:
    for file in files:
        for record in journal.read(file):
            if isinstance(record, Gone):
                yield record
            else:
                complain(f"{file}:{record.number}:1: not a record, passed over ({record.why})")


def _erased(files: list[Path], complain: Say) -> Iterator[Erased]:
    for file in files:
        for record in erasure_journal.read(file):
            if isinstance(record, Erased):
                yield record
            else:
                complain(f"{file}:{record.number}:1: not a record, passed over ({record.why})")
