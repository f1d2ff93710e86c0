"""The erasure journal's lines: who was erased, without saying who (design/reliability.md, B3 and B4).

One JSON object a line: the owner's code, the day, and keyed hashes of the e-mail addresses and the name that the house
knew them by. A hash says whether somebody is the one who was erased, to whoever has the key, and nothing to anybody
else (HMAC, RFC 2104).
"""

import hashlib
import hmac
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

KEY_DIGITS = 16


class UnreadableErasure(ValueError):  # noqa: N818  # a refusal, named for what was found
    """A line that is no record: cut off where the machine stopped, or not ours. The message says what is wrong."""


@dataclass(frozen=True, slots=True)
class Erased:
    """An owner who was erased. `owner`: their code; `key`: which secret made the hashes."""

    owner: str
    on: date
    at: datetime
    key: str
    emails: tuple[str, ...]
    names: tuple[str, ...]


def hash_of(what: str, text: str, secret: str) -> str:
    """The keyed hash of an e-mail address ("email") or a name ("name"), however it is spaced and written."""
    plain = " ".join(text.split()).casefold()
    return hmac.new(secret.encode(), f"erased|{what}|{plain}".encode(), hashlib.sha256).hexdigest()


def key_of(secret: str) -> str:
    """Which secret it is, to whoever has it."""
    return hash_of("key", "", secret)[:KEY_DIGITS]


def erased_by(
    owner: str, *, emails: Sequence[str], names: Sequence[str], on: date, at: datetime, secret: str
) -> Erased:
    """The record of an erasure, from what the house knew the owner by. Empty particulars are left out."""
    return Erased(
        owner=owner,
        on=on,
        at=at,
        key=key_of(secret),
        emails=tuple(hash_of("email", one, secret) for one in emails if one.strip()),
        names=tuple(hash_of("name", one, secret) for one in names if one.strip()),
    )


def may_be(erased: Erased, *, email: str, name: str, secrets: Sequence[str]) -> bool:
    """Whether somebody with the erased owner's code is the one who was erased.

    Not, where both know particulars and none agrees: a code may have been given to somebody else since. Without the
    secret that made the hashes nobody can tell, and the code alone counts.
    """
    secret = next((one for one in secrets if key_of(one) == erased.key), None)
    if secret is None:
        return True
    known = {*erased.emails, *erased.names}
    theirs = {hash_of(what, text, secret) for what, text in (("email", email), ("name", name)) if text.strip()}
    return not known or not theirs or bool(known & theirs)


def line_of(erased: Erased) -> str:
    """The record, without line breaks."""
    return json.dumps(
        {
            "erased": erased.owner,
            "on": erased.on.isoformat(),
            "at": erased.at.isoformat(),
            "key": erased.key,
            "emails": list(erased.emails),
            "names": list(erased.names),
        },
        ensure_ascii=True,
    )


def erased_from(line: str) -> Erased:
    """The record of a line. Raises UnreadableErasure."""
    try:
        told = json.loads(line)
        return Erased(
            owner=str(told["erased"]),
            on=date.fromisoformat(told["on"]),
            at=datetime.fromisoformat(told["at"]),
            key=str(told["key"]),
            emails=tuple(map(str, told["emails"])),
            names=tuple(map(str, told["names"])),
        )
    except (ValueError, TypeError, KeyError) as error:
        raise UnreadableErasure(f"{type(error).__name__}: {error}") from error
