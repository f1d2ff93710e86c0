"""What a mailbox provider tells of an owner who calls a letter unwanted: feedback reports (RFC 5965)."""

import email.policy
from collections.abc import Iterator
from dataclasses import dataclass
from email.message import Message
from email.parser import HeaderParser

from service_center.letters.returned.fields import Told, text_of
from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.bounces import Happened

# Parsed as text, as the fields of a delivery report are (reading.AS_TEXT).
FEEDBACK = "text/feedback-report"
# The types that are the owner's wish (RFC 5965, 7.3; "opt-out" is sent beside them). Every other, "not-spam" (RFC 6430)
# among them, is kept and stops nothing.
WISHES = {"abuse": Happened.COMPLAINED, "opt-out": Happened.UNSUBSCRIBED}
# Where the letter that it is about names itself. Not where it is quoted: what answers or forwards ours is not ours.
NAMES = ("Return-Path", "Message-ID")


@dataclass(frozen=True, slots=True)
class Feedback:
    """A feedback report. `kind` empty: it does not say what it is; `names`: where the letter is named."""

    kind: str
    names: str

    @property
    def told(self) -> tuple[Told, ...]:
        """What it tells of the letter, if that is a wish of its owner."""
        happened = WISHES.get(self.kind)
        return (Told(happened, "", f"Feedback-Type: {self.kind}"),) if happened else ()


def feedback_in(message: Message) -> Feedback | None:
    """The feedback report that a message is; None where it is none."""
    fields = next((part for part in message.walk() if part.get_content_type() == FEEDBACK), None)
    if fields is None:
        return None
    said = HeaderParser(policy=email.policy.compat32).parsestr(text_of(fields).strip())
    kinds = said.get_all("Feedback-Type", [])  # exactly once (RFC 5965, 3.1)
    kind = one_line(str(kinds[0])).split("(")[0].strip().lower() if len(kinds) == 1 else ""
    return Feedback(kind, "\n".join([str(said.get("Original-Mail-From", "")), *_enclosed(message)]))


def _enclosed(message: Message) -> Iterator[str]:
    """How the message that the report is about names itself, whole or by its headers only (RFC 5965, 2)."""
    for part in message.walk():
        if part.get_content_type() == "message/rfc822" and part.is_multipart():
            inner = part.get_payload(0)
        elif part.get_content_type() == "text/rfc822-headers":
            inner = HeaderParser(policy=email.policy.compat32).parsestr(text_of(part).lstrip())
        else:
            continue
        if isinstance(inner, Message):
            yield from (str(value) for name in NAMES for value in inner.get_all(name, []))
