"""What a message that came to a return path says: RFC 3464 by the standard library, older forms by flufl.bounce.

Or an owner's mail program asks there for no more letters (RFC 2369, 3.2), or a mailbox provider tells that an owner
called a letter unwanted (RFC 5965).
"""

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

from service_center.letters.returned.complaints import Feedback, feedback_in
from service_center.letters.returned.fields import TEXT_LOOKED_AT, Told, by_recipient, in_blocks
from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.bounces import Happened
from service_center.letters.rules.codes import Status, most_telling
from service_center.letters.rules.return_path import letter_named_in, letter_to_stop
from service_center.letters.rules.words import FoundInMail

# The standard library takes these as messages, or as fields that it does not decode; as text they are decoded first.
# RFC 3464, RFC 6533 (addresses in other scripts), RFC 5965.
AS_TEXT = re.compile(rb"(?im)^(content-type:\s*)message/((?:global-)?delivery-status|feedback-report)\b")


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
        if stops := letter_to_stop(str(message.get("Subject", "")), secrets=secrets):
            return Read(key, FoundInMail.STOP, stops, _written_at(message), (Told(Happened.UNSUBSCRIBED, "", ""),))
        parsed = BytesParser(policy=email.policy.compat32).parsebytes(AS_TEXT.sub(rb"\1text/\2", raw))
        if feedback := feedback_in(parsed):
            return _of_feedback(key, message, feedback, secrets)
        return _of_delivery(key, message, parsed, secrets)
    except Exception:  # noqa: BLE001  # a hostile or broken message breaks the parsers in more ways than one can list
        return Read(key, FoundInMail.UNREADABLE)


def _key(message: Message) -> str:
    """The same for two copies that took different ways here. Message-ID alone would trust the sender to count well."""
    if not message.get("Message-ID"):
        return ""
    parts = "\0".join(str(message.get(name, "")) for name in ("Message-ID", "Date", "To"))
    return hashlib.sha256(parts.encode("utf-8", "surrogateescape")).hexdigest()


def _of_feedback(key: str, message: Message, feedback: Feedback, secrets: Sequence[str]) -> Read:
    if not feedback.kind:
        return Read(key, FoundInMail.UNREADABLE)
    if not feedback.told:
        return Read(key, FoundInMail.NO_REPORT)
    letter = letter_named_in(feedback.names, secrets=secrets)
    if letter is None:
        return Read(key, FoundInMail.NO_LETTER)
    return Read(key, FoundInMail.REPORT, letter, _written_at(message), feedback.told)


def _of_delivery(key: str, message: Message, parsed: Message, secrets: Sequence[str]) -> Read:
    told = _told_by(message, parsed)
    if told is None:
        return Read(key, FoundInMail.AUTO_REPLY if _is_automatic(message) else FoundInMail.NO_REPORT)
    if not told:
        return Read(key, FoundInMail.UNREADABLE)
    letter = letter_named_in("\n".join(_texts(message)), secrets=secrets)
    if letter is None:
        return Read(key, FoundInMail.NO_LETTER)
    return Read(key, FoundInMail.REPORT, letter, _written_at(message), tuple(told))


def _told_by(message: Message, parsed: Message) -> list[Told] | None:
    """What a report tells; None where the message is no report of delivery. `parsed`: the same, its fields as text."""
    is_report = message.get_content_type() == "multipart/report"
    if is_report and _parameter(message, "report-type") not in ("", "delivery-status"):
        # RFC 6522: other kinds of report, such as receipts of reading, are none of delivery.
        return None
    if told := by_recipient(parsed) or (in_blocks(parsed) if is_report or _by_a_machine(message) else []):
        return told
    if not is_report and _is_automatic(message) and not _from_a_mail_server(message):
        return None
    return _in_older_ways(message) or ([] if is_report else None)


def _in_older_ways(message: Message) -> list[Told]:
    """What servers say that know no RFC 3464, or wrote its fields where nobody finds them."""
    for_now, for_good = all_failures(message)
    if not (for_now or for_good):
        return []
    text = one_line(" ".join(_bodies(message)))
    status = most_telling(text)
    happened = Happened.FAILED if for_good else Happened.DELAYED
    return [Told(happened, str(status or ""), _around(status, text))]


def _is_automatic(message: Message) -> bool:
    """Whether a program wrote it in answer to ours (RFC 3834, 5), or says so in one of the older ways."""
    older = str(message.get("Precedence", "")).strip().lower()
    return (
        _says_automatic(message)
        or older in ("auto_reply", "bulk", "junk")
        or "X-Autoreply" in message
        or "X-Autorespond" in message
    )


def _by_a_machine(message: Message) -> bool:
    """Whether a program sent it: nobody, as senders of an envelope go (RFC 3464, 2), a mail server, or who says so.

    A person may have forwarded what some server wrote to them of another letter.
    """
    to_nobody = str(message.get("Return-Path", "")).strip() == "<>"
    return to_nobody or _from_a_mail_server(message) or _says_automatic(message)


def _says_automatic(message: Message) -> bool:
    """RFC 3834, 5."""
    return str(message.get("Auto-Submitted", "no")).split(";")[0].strip().lower() != "no"


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
