"""The message of a letter: what it says, as plain text and as HTML, and its headers (facts.md, 7)."""

import textwrap
from dataclasses import dataclass
from datetime import date
from email.charset import BASE64, QP, Charset
from email.header import Header
from email.utils import formataddr
from typing import Any
from urllib.parse import quote

import css_inline
from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation

from service_center.intervals.rules import Due
from service_center.letters import compose_words as words
from service_center.letters.rules.addressing import one_line

_inliner = css_inline.CSSInliner(keep_style_tags=False, keep_at_rules=True, load_remote_stylesheets=False)
TEXT_WIDTH = 76
MASK = "•" * 12


@dataclass(frozen=True, slots=True)
class ServiceInLetter:
    """One kind of service that a letter speaks of. `again`: its first letter went to the same owner before."""

    due: Due
    again: bool


@dataclass(frozen=True, slots=True)
class PieceInLetter:
    """One piece. `rated`: its model has a pressure rating. `guarantee_to`: the last day of a guarantee that runs."""

    name: str
    serial: str
    rated: bool
    boutique: str
    services: tuple[ServiceInLetter, ...]
    guarantee_to: date | None = None


@dataclass(frozen=True, slots=True)
class LetterContent:
    """All that a letter says. `as_of`: the day it speaks from."""

    letter: int
    language: str
    owner_name: str
    as_of: date
    pieces: tuple[PieceInLetter, ...]


@dataclass(frozen=True, slots=True)
class Links:
    """The addresses in a letter: its page, and the way to stop letters."""

    page: str
    stop: str


@dataclass(frozen=True, slots=True)
class Written:
    """A letter as the owner reads it."""

    subject: str
    text: str
    html: str


def links_for(page_token: str, stop_token: str) -> Links:
    """The links of a letter from its secrets."""
    return Links(
        page=settings.SITE_URL + reverse("owner_pages:letter", kwargs={"token": page_token}),
        stop=settings.SITE_URL + reverse("owner_pages:stop_letters", kwargs={"token": stop_token}),
    )


def masked_links() -> Links:
    """Links that open nothing: staff read a letter without acting as its owner."""
    return Links(page=f"{settings.SITE_URL}/o/{MASK}/", stop=f"{settings.SITE_URL}/o/stop/{MASK}/")


def write(content: LetterContent, links: Links) -> Written:
    """The words of a letter, in its owner's language."""
    with translation.override(content.language):
        context = _context(content, links)
        text = render_to_string("letters/mail/letter.txt", context)
        html = render_to_string("letters/mail/letter.html", context)
    return Written(context["subject"], wrapped(text), _inliner.inline(html))


def message(
    written: Written, links: Links, *, language: str, to_name: str, to_address: str, message_id: str
) -> EmailMultiAlternatives:
    """The letter as mail: multipart, plain text first, HTML beside it."""
    mail = EmailMultiAlternatives(
        subject=encoded_words(one_line(written.subject), header="Subject"),
        body=written.text,
        from_email=addressed(settings.HOUSE_NAME, settings.MAIL_FROM),
        to=[addressed(to_name, to_address)],
        headers={
            "Message-ID": message_id,
            "Auto-Submitted": "auto-generated",  # RFC 3834, 5
            "Content-Language": language,
            **_unsubscribe(links, message_id),
        },
    )
    # Seven bits, so that any server takes it; whichever of the two encodings is shorter for the script.
    charset = Charset("utf-8")
    ascii_share = len(written.text.encode("ascii", "ignore")) / max(1, len(written.text))
    charset.body_encoding = QP if ascii_share > 0.8 else BASE64
    mail.encoding = charset
    mail.attach_alternative(written.html, "text/html")
    return mail


def addressed(name: str, address: str) -> str:
    """`name <address>` for a header."""
    plain = one_line(name)
    if not plain:
        return address
    return formataddr((plain, address)) if plain.isascii() else f"{encoded_words(plain)} <{address}>"


def encoded_words(text: str, *, header: str = "") -> str:
    """Text in other scripts as words of at most 75 characters (RFC 2047, 2), short enough to begin beside `header`."""
    if text.isascii():
        return text
    room = 75 - (len(header) + 2 if header else 0)
    # Where the first word is too long to stand beside the header's name, the header would begin with an empty line.
    return Header(text, "utf-8", maxlinelen=room).encode(linesep="\n").replace("\n", "")


def wrapped(text: str) -> str:
    """Plain text as people send it: lines of a readable width, one blank line between paragraphs, links whole."""
    lines: list[str] = []
    for line in text.strip().splitlines():
        stripped = line.strip()
        if stripped:
            lines += textwrap.wrap(stripped, TEXT_WIDTH, break_long_words=False, break_on_hyphens=False)
        elif lines and lines[-1]:
            lines.append("")
    return "\n".join(lines) + "\n"


def _unsubscribe(links: Links, message_id: str) -> dict[str, str]:
    """RFC 2369 and, where the site has https, the one click of RFC 8058."""
    by_mail = f"<mailto:{settings.MAIL_FROM}?subject={quote('stop ' + message_id.strip('<>').split('@')[0])}>"
    if not links.stop.startswith("https://"):
        return {"List-Unsubscribe": by_mail}
    return {
        "List-Unsubscribe": f"<{links.stop}>, {by_mail}",
        "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
    }


def _context(content: LetterContent, links: Links) -> dict[str, Any]:
    services = [service for piece in content.pieces for service in piece.services]
    kinds = {service.due.kind for service in services}
    return {
        "language": content.language,
        "house_name": settings.HOUSE_NAME,
        "mail_from": settings.MAIL_FROM,
        "subject": words.subject([piece.name for piece in content.pieces], kinds),
        "greeting": words.greeting(content.owner_name),
        "opening": words.opening(len(content.pieces), written_before=all(service.again for service in services)),
        "pieces": [told_of(piece, content.as_of) for piece in content.pieces],
        "page_link": links.page,
        "stop_link": links.stop,
    }


def told_of(piece: PieceInLetter, as_of: date) -> dict[str, Any]:
    """What a letter of that day tells of one piece, in the language that is active; its page tells the same."""
    return {
        "name": piece.name,
        "serial": piece.serial,
        "where": words.where(piece.boutique),
        "guarantee": words.guarantee_runs(piece.guarantee_to) if piece.guarantee_to else "",
        "services": [
            {
                "what": words.what(service.due.kind),
                "why": words.why(service.due, as_of),
                "caution": words.caution(service.due),
                "takes": words.takes(service.due.kind, rated=piece.rated),
            }
            for service in piece.services
        ],
    }
