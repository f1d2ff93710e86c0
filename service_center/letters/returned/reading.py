"""What a message that came to a return path says: RFC 3464 by the standard library, older forms by flufl.bounce."""

import email.policy
import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from email.message import Message
from email.parser import BytesParser
from email.utils import parsedate_to_datetime

from flufl.bounce import all_failures

from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.bounces import Happened
from service_center.letters.rules.codes import Status, most_telling
from service_center.letters.rules.return_path import letter_named_in
from service_center.letters.rules.words import FoundInMail

# RFC 3464, 2.3.3.
ACTIONS = {one.value: one for one in (
    Happened.FAILED, Happened.DELAYED, Happened.DELIVERED, Happened.RELAYED, Happened.EXPANDED,
)}  # fmt: skip
WORDS_KEPT = 1_000
TEXT_LOOKED_AT = 65_536


@dataclass(frozen=True, slots=True)
class Told:
    """One thing a message says of a letter. `status`: "5.1.1" or empty; `words`: the server's own, shortened."""

    happened: Happened
    status: str
    words: str


@dataclass(frozen=True, slots=True)
class Read:
    """A message as it was read. `key` is the same for every copy of it; `letter`: the one it truly names, if any;
    `at`: when it was written."""

    key: str
    found: FoundInMail
    letter: int | None = None
    at: datetime | None = None
    told: tuple[Told, ...] = ()


def read(raw: bytes, *, secrets: Sequence[str]) -> Read:
    """Read one message. Never raises: whoever can write to the return path can write anything at all."""
    key = hashlib.sha256(raw).hexdigest()
    try:
        message = BytesParser(policy=email.policy.compat32).parsebytes(raw)
        key = _key(message) or key
        told = _told_by(message)
        if told is None:
            return Read(key, FoundInMail.AUTO_REPLY if _is_automatic(message) else FoundInMail.NO_REPORT)
        letter = letter_named_in("\n".join(_texts(message)), secrets=secrets)
        if letter is None:
            return Read(key, FoundInMail.NO_LETTER)
        return Read(key, FoundInMail.REPORT, letter, _written_at(message), tuple(told))
    except Exception:  # noqa: BLE001  # a hostile or broken message breaks the parsers in more ways than one can list
        return Read(key, FoundInMail.UNREADABLE)


def _key(message: Message) -> str:
    """The same for two copies that took different ways here. Message-ID alone would trust the sender to count well."""
    if not message.get("Message-ID"):
        return ""
    parts = "\0".join(str(message.get(name, "")) for name in ("Message-ID", "Date", "To"))
    return hashlib.sha256(parts.encode("utf-8", "surrogateescape")).hexdigest()


def _told_by(message: Message) -> list[Told] | None:
    """What a report tells; None where the message is no report of delivery."""
    if message.get_content_type() == "multipart/report":
        # RFC 6522: other kinds of report, such as receipts of reading, are none of delivery.
        return _by_recipient(message) if _parameter(message, "report-type") in ("", "delivery-status") else None
    if _is_automatic(message) and not _from_a_mail_server(message):
        return None
    for_now, for_good = all_failures(message)
    if not (for_now or for_good):
        return None
    text = one_line(" ".join(_bodies(message)))
    status = most_telling(text)
    happened = Happened.FAILED if for_good else Happened.DELAYED
    return [Told(happened, str(status or ""), _around(status, text))]


def _by_recipient(message: Message) -> list[Told]:
    told = []
    for part in message.walk():
        if part.get_content_type() != "message/delivery-status" or not part.is_multipart():
            continue
        for fields in part.get_payload():
            action = str(fields.get("Action", "")).strip().lower()  # type: ignore[union-attr]
            if action in ACTIONS and isinstance(fields, Message):
                told.append(_one_recipient(ACTIONS[action], fields))
    return told


def _one_recipient(happened: Happened, fields: Message) -> Told:
    diagnostic = one_line(str(fields.get("Diagnostic-Code", "")))
    status = most_telling(str(fields.get("Status", "")), diagnostic)
    # "smtp; 550 ...": the type before the words is of no use to a person (RFC 3464, 2.3.6).
    words = re.sub(r"^[\w-]+\s*;\s*", "", diagnostic)
    return Told(happened, str(status or ""), words[:WORDS_KEPT])


def _is_automatic(message: Message) -> bool:
    """Whether a program wrote it in answer to ours (RFC 3834, 5), or says so in one of the older ways."""
    said = str(message.get("Auto-Submitted", "no")).split(";")[0].strip().lower()
    older = str(message.get("Precedence", "")).strip().lower()
    return (
        said != "no"
        or older in ("auto_reply", "bulk", "junk")
        or "X-Autoreply" in message
        or "X-Autorespond" in message
    )


def _from_a_mail_server(message: Message) -> bool:
    if "X-Failed-Recipients" in message:
        return True
    return re.search(r"\b(mailer-daemon|postmaster)@", str(message.get("From", "")), re.IGNORECASE) is not None


def _texts(message: Message) -> Iterator[str]:
    """Every header and every text, the message's own headers first; so a return path weighs more than a quotation."""
    for part in message.walk():
        yield from (f"{name}: {value}" for name, value in part.items())
    yield from _bodies(message)


def _bodies(message: Message) -> Iterator[str]:
    for part in message.walk():
        if part.get_content_maintype() == "text":
            content = part.get_payload(decode=True)
            if isinstance(content, bytes):
                yield content[:TEXT_LOOKED_AT].decode("utf-8", "replace")


def _around(status: Status | None, text: str) -> str:
    """The words in which a code stands, where a report has no field of its own for them."""
    at = text.find(str(status)) if status else -1
    return text[max(0, at - 200) : at + 300] if at >= 0 else text[:500]


def _parameter(message: Message, name: str) -> str:
    value = message.get_param(name)
    return value.strip().lower() if isinstance(value, str) else ""


def _written_at(message: Message) -> datetime | None:
    try:
        written = parsedate_to_datetime(str(message.get("Date", "")))
    except ValueError:
        return None
    return written if written.tzinfo else written.replace(tzinfo=UTC)
