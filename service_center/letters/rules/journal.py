"""The sent journal's lines: what is known of a letter when a mail server takes it (design/reliability.md, B3).

One JSON object a line, in words that outlive a restored database: serials, owners' codes, days. No address and no name.
"""

import json
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any


class UnreadableLine(ValueError):  # noqa: N818  # a refusal, named for what was found
    """A line that is no record: cut off where the machine stopped, or not ours. The message says what is wrong."""


@dataclass(frozen=True, slots=True)
class GoneReminder:
    """A reminder's key, and the day that it spoke of. `year`: of a yearly step; 0 otherwise."""

    serial: str
    kind: str
    starts_on: date
    step: str
    due_on: date
    year: int = 0


@dataclass(frozen=True, slots=True)
class GoneLink:
    """A secret in the letter, as it is stored: hashed."""

    purpose: str
    token_hash: str
    expires_at: datetime


@dataclass(frozen=True, slots=True)
class Going:
    """A letter in a sender's hands. `owner`: the owner's code."""

    letter: int
    owner: str
    language: str
    planned_on: date
    message_id: str
    attempt: int
    reminders: tuple[GoneReminder, ...]
    links: tuple[GoneLink, ...]
    sort: str = "invitation"  # as of lines that were written before there was another


@dataclass(frozen=True, slots=True)
class Gone:
    """A letter that a mail server took, when, and the server's words."""

    going: Going
    at: datetime
    reply: str


def begun_line(going: Going) -> str:
    """The record up to what only the server's answer tells: written ahead, so that the answer has not to wait for it."""
    told = {
        "letter": going.letter,
        "owner": going.owner,
        "sort": going.sort,
        "language": going.language,
        "planned_on": going.planned_on.isoformat(),
        "message_id": going.message_id,
        "attempt": going.attempt,
        "reminders": [
            [one.serial, one.kind, one.starts_on.isoformat(), one.step, one.due_on.isoformat(), one.year]
            for one in going.reminders
        ],
        "links": [[one.purpose, one.token_hash, one.expires_at.isoformat()] for one in going.links],
    }
    return json.dumps(told).removesuffix("}")


def line_of(gone: Gone, begun: str = "") -> str:
    """The record, without line breaks. `begun`: what `begun_line` gave for this letter."""
    answered = json.dumps({"sent_at": gone.at.isoformat(), "reply": gone.reply})
    return f"{begun or begun_line(gone.going)}, {answered.removeprefix('{')}"


def gone_from(line: str) -> Gone:
    """The record of a line. Raises UnreadableLine."""
    try:
        told = json.loads(line)
        return Gone(_going(told), datetime.fromisoformat(told["sent_at"]), str(told["reply"]))
    except (ValueError, TypeError, KeyError) as error:
        raise UnreadableLine(f"{type(error).__name__}: {error}") from error


def _going(told: dict[str, Any]) -> Going:
    return Going(
        letter=int(told["letter"]),
        owner=str(told["owner"]),
        sort=str(told.get("sort", "invitation")),
        language=str(told["language"]),
        planned_on=date.fromisoformat(told["planned_on"]),
        message_id=str(told["message_id"]),
        attempt=int(told["attempt"]),
        reminders=tuple(
            # Lines written before there were yearly steps end with the day.
            GoneReminder(serial, kind, date.fromisoformat(starts_on), step, date.fromisoformat(due_on), *map(int, year))
            for serial, kind, starts_on, step, due_on, *year in told["reminders"]
        ),
        links=tuple(
            GoneLink(purpose, token_hash, datetime.fromisoformat(expires_at))
            for purpose, token_hash, expires_at in told["links"]
        ),
    )
