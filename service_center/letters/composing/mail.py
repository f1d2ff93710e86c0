"""A letter as a message: its headers and its parts (facts.md, 7), in seven bits, so that any server takes it.

Made of strings rather than by the standard library's generator, which took longer than all the rest of a letter; the
tests read every message with that library's parser, under its strict policy.
"""

import base64
import binascii
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from email.header import Header
from email.utils import formataddr, formatdate
from functools import lru_cache
from urllib.parse import quote

from django.conf import settings

from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.return_path import stop_address, stop_subject

# A line should be no longer (RFC 5322, 2.1.1); an encoded word must not be (RFC 2047, 2).
LINE, ENCODED_WORD = 78, 75
# A single word that is longer would not fit into the line that RFC 5322 allows at most.
LONGEST_WORD = 900
DIRECTIONS = str.maketrans("", "", "\u2066\u2067\u2068\u2069")


@dataclass(frozen=True, slots=True)
class Attached:
    """A file that goes with a letter. `as_part`: the content type as the part beside text and HTML has it."""

    name: str
    content_type: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Envelope:
    """To whom a message goes, as which. `stop_link`: empty where there is nothing that one could stop."""

    to_name: str
    to_address: str
    message_id: str
    language: str
    stop_link: str
    auto_submitted: str = "auto-generated"  # RFC 3834, 5


def mail(
    subject: str,
    text: str,
    html: str,
    envelope: Envelope,
    *,
    attached: Sequence[Attached] = (),
    files: Sequence[Attached] = (),
    more: Mapping[str, str] | None = None,
) -> bytes:
    """The message, whole: plain text first, HTML beside it, then what is attached.

    `attached`: calendar entries, which are a form of the message too. `files`: those that are files and no more.
    `more`: further headers.
    """
    headers = {
        "From": addressed(settings.HOUSE_NAME, settings.MAIL_FROM),
        "To": addressed(envelope.to_name, envelope.to_address),
        "Subject": encoded_words(one_line(subject.translate(DIRECTIONS)), header="Subject"),
        "Date": formatdate(),
        "Message-ID": envelope.message_id,
        "Auto-Submitted": envelope.auto_submitted,
        "Content-Language": envelope.language,
        **_unsubscribe(envelope),
        **(more or {}),
        "MIME-Version": "1.0",
    }
    head = "".join(f"{_folded(name, value)}\n" for name, value in headers.items())
    forms = _several(
        "alternative", envelope.message_id, [_words("plain", text), _words("html", html), *map(_calendar, attached)]
    )
    parts = [forms, *map(_file, [*attached, *files])]
    body = _several("mixed", envelope.message_id, parts) if len(parts) > 1 else forms
    return (head + body).encode("ascii")


def addressed(name: str, address: str) -> str:
    """`name <address>` for a header."""
    plain = one_line(name.translate(DIRECTIONS))
    if not plain:
        return address
    return formataddr((plain, address)) if _goes_plain(plain) else f"{encoded_words(plain)} <{address}>"


@lru_cache(maxsize=4096)
def encoded_words(text: str, *, header: str = "") -> str:
    """Text in other scripts as words of at most 75 characters (RFC 2047, 2), short enough to begin beside `header`."""
    if _goes_plain(text):
        return text
    room = ENCODED_WORD - (len(header) + 2 if header else 0)
    # Where the first word is too long to stand beside the header's name, the header would begin with an empty line.
    return Header(text, "utf-8", maxlinelen=room).encode(linesep="\n").replace("\n", "")


def _goes_plain(text: str) -> bool:
    return text.isascii() and "=?" not in text and all(len(word) <= LONGEST_WORD for word in text.split(" "))


def _folded(name: str, value: str) -> str:
    """A header in lines of at most 78 characters where it has spaces to break at (RFC 5322, 2.2.3)."""
    value = one_line(value)
    if len(name) + 2 + len(value) <= LINE:
        return f"{name}: {value}"
    lines, at = [], f"{name}:"
    for word in value.split(" "):
        if len(at) + 1 + len(word) > LINE and at != f"{name}:" and at.strip():
            lines.append(at)
            at = ""
        at += " " + word
    return "\n".join([*lines, at])


def _several(kind: str, message_id: str, parts: Sequence[str]) -> str:
    # "=_" stands in no line of quoted-printable or base64 (RFC 2045, 6.7): no part can hold its own boundary.
    boundary = f"=_{kind}_{hashlib.sha256(message_id.encode()).hexdigest()[:24]}"
    inner = "".join(f"--{boundary}\n{part}\n" for part in parts)
    return f'Content-Type: multipart/{kind};\n boundary="{boundary}"\n\n{inner}--{boundary}--\n'


def _words(kind: str, text: str) -> str:
    encoding, body = _encoded(text.encode("utf-8", "replace"))
    return f'Content-Type: text/{kind}; charset="utf-8"\nContent-Transfer-Encoding: {encoding}\n\n{body}'


def _encoded(content: bytes) -> tuple[str, str]:
    """Whichever of the two is shorter for the script."""
    beyond = len(content) - len(content.decode("ascii", "ignore"))
    if beyond * 6 > len(content):
        return "base64", base64.encodebytes(content).decode("ascii")
    quoted = binascii.b2a_qp(content, istext=True).decode("ascii")
    return "quoted-printable", quoted if quoted.endswith("\n") else quoted + "\n"


def _calendar(one: Attached) -> str:
    """The entry as a mail program reads it: a form of the message itself (RFC 6047, 2.4)."""
    encoding, body = _encoded(one.content)
    return f"Content-Type: {one.content_type}\nContent-Transfer-Encoding: {encoding}\n\n{body}"


def _file(one: Attached) -> str:
    """Anything as a file; a calendar entry too, for programs that show no calendars."""
    charset = '; charset="utf-8"' if one.content_type == "text/plain" else ""
    return (
        f'Content-Type: {one.content_type.split(";")[0]}{charset}; name="{one.name}"\n'
        f'Content-Disposition: attachment; filename="{one.name}"\n'
        f"Content-Transfer-Encoding: base64\n\n{base64.encodebytes(one.content).decode('ascii')}"
    )


def _unsubscribe(envelope: Envelope) -> dict[str, str]:
    """RFC 2369 and, where the site has https, the one click of RFC 8058."""
    if not envelope.stop_link:
        return {}
    # A person reads what comes to the house's address; where returned mail is read, a program does, and at once.
    is_read = settings.BOUNCE_MAILBOX_URL or settings.BOUNCE_FOLDER
    to = stop_address(settings.BOUNCE_DOMAIN) if is_read else settings.MAIL_FROM
    by_mail = f"<mailto:{to}?subject={quote(stop_subject(envelope.message_id))}>"
    if not envelope.stop_link.startswith("https://"):
        return {"List-Unsubscribe": by_mail}
    return {
        "List-Unsubscribe": f"<{envelope.stop_link}>, {by_mail}",
        "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
    }
