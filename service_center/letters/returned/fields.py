"""The fields of RFC 3464, by recipient: in their own part, or in a block of their own where a server mislabelled it."""

import email.policy
import re
from collections.abc import Iterator
from dataclasses import dataclass
from email.message import Message
from email.parser import HeaderParser

from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.bounces import Happened
from service_center.letters.rules.codes import ENHANCED, most_telling

# RFC 3464, 2.3.3.
ACTIONS = {one.value: one for one in (
    Happened.FAILED, Happened.DELAYED, Happened.DELIVERED, Happened.RELAYED, Happened.EXPANDED,
)}  # fmt: skip
# Where a report names no action: the class of its code (RFC 3463, 2).
BY_CLASS = {2: Happened.DELIVERED, 4: Happened.DELAYED, 5: Happened.FAILED}
# The classes that an action may have: a server that gives up in time may say 4 (RFC 3464, 2.3.3).
CLASSES_OF = {Happened.FAILED: (4, 5), Happened.DELAYED: (4,)}
# The standard library takes the fields of RFC 3464 as they stand; as text they are decoded first. Those for addresses
# in other scripts (RFC 6533, 3) have a type of their own.
FIELDS = ("text/delivery-status", "text/global-delivery-status")
# Whatever else a part is called, fields are text; of these nothing is read.
NEVER_FIELDS = ("image", "audio", "video")
A_FIELD = re.compile(r"[A-Za-z][A-Za-z0-9-]*[ \t]*:|[ \t]")
# RFC 3464, 2.3.2 and 2.3.4; a comment may stand behind a code.
RECIPIENT = re.compile(r"[\w-]+\s*;\s*\S+@\S+")
CODE = re.compile(rf"(?:{ENHANCED.pattern})\s*(?:\(.*\))?")
BLANK_LINES = re.compile(r"(?:\r?\n[ \t]*){2,}")
WORDS_KEPT = 1_000
TEXT_LOOKED_AT = 65_536


@dataclass(frozen=True, slots=True)
class Told:
    """One thing a message says of a letter. `status`: "5.1.1" or empty; `words`: the server's own, shortened."""

    happened: Happened
    status: str
    words: str


def by_recipient(message: Message) -> list[Told]:
    """What the fields of RFC 3464 tell, also where a list or a forwarder wrapped the report in a message of its own.

    Of a message that was parsed with those fields as text (reading.AS_TEXT).
    """
    told = []
    for part in message.walk():
        if part.get_content_type() in FIELDS:
            for group in BLANK_LINES.split(text_of(part).strip()):
                fields = HeaderParser(policy=email.policy.compat32).parsestr(group)
                if happened := _happened(fields):
                    told.append(_one_recipient(happened, fields))
    return told


def in_blocks(message: Message) -> list[Told]:
    """The same where the part has another type, as text or as a message: only from a block that leaves nothing to guess.

    Every line of it is a field, and it has one recipient, one of the five actions, and a code that fits. Prose, also
    prose that quotes such a block, is none.
    """
    told = []
    for block in _blocks(message):
        if not all(A_FIELD.match(line) for line in block.splitlines()):
            continue
        fields = HeaderParser(policy=email.policy.compat32).parsestr(block)
        recipient, action, code = (_only(fields, name) for name in ("Final-Recipient", "Action", "Status"))
        happened, found = ACTIONS.get(_without_comment(action)), CODE.fullmatch(code)
        fits = happened and found and int(found[1]) in CLASSES_OF.get(happened, (2,))
        if happened and fits and RECIPIENT.fullmatch(recipient):
            told.append(_one_recipient(happened, fields))
    return told


def text_of(part: Message) -> str:
    """The text of a part that has no parts itself; empty for another."""
    content = part.get_payload(decode=True)
    return content[:TEXT_LOOKED_AT].decode("utf-8", "replace") if isinstance(content, bytes) else ""


def _blocks(message: Message) -> Iterator[str]:
    for part in message.walk():
        if part.is_multipart():
            if part.get_content_maintype() == "message":
                # Taken for a message, the first block stands where its headers would.
                for inner in part.get_payload():
                    if isinstance(inner, Message):
                        yield "\n".join(f"{name}: {value}" for name, value in inner.items())
        elif part.get_content_maintype() not in NEVER_FIELDS:
            yield from BLANK_LINES.split(text_of(part).strip("\r\n"))


def _only(fields: Message, name: str) -> str:
    """The value of a field that stands there once."""
    values = fields.get_all(name, [])
    return str(values[0]).strip() if len(values) == 1 else ""


def _without_comment(action: str) -> str:
    return action.split("(", maxsplit=1)[0].strip().lower()


def _happened(fields: Message) -> Happened | None:
    """The action, without the comment that may stand beside it; by the code's class where there is none of those.

    None for the group of fields about the message as a whole, which has neither (RFC 3464, 2.2).
    """
    status = most_telling(str(fields.get("Status", "")))
    return ACTIONS.get(_without_comment(str(fields.get("Action", "")))) or (BY_CLASS[status.kind] if status else None)


def _one_recipient(happened: Happened, fields: Message) -> Told:
    diagnostic = one_line(str(fields.get("Diagnostic-Code", "")))
    status = most_telling(str(fields.get("Status", "")), diagnostic)
    # "smtp; 550 ...": the type before the words is of no use to a person (RFC 3464, 2.3.6).
    words = re.sub(r"^[\w-]+\s*;\s*", "", diagnostic)
    return Told(happened, str(status or ""), words[:WORDS_KEPT])
