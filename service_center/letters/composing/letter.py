"""What a letter says, as plain text and as HTML, in its owner's language and the house's wording."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from html import escape
from typing import Any
from urllib.parse import quote

from django.conf import settings
from django.urls import reverse

from service_center.book.rules import Complexity
from service_center.guarantee.rules import CoveredBy
from service_center.intervals.rules import Due
from service_center.letters.composing import sentences as words
from service_center.letters.composing.as_html import filled, in_html, in_title, paragraphs
from service_center.letters.composing.mail import Attached, Envelope, addressed, encoded_words, mail
from service_center.letters.composing.order import OrderContent, order_as_html, order_as_text, papers_of
from service_center.letters.composing.receipt import ReceiptContent, files_of, receipt_as_html, receipt_as_text
from service_center.letters.composing.visit import VisitContent, calendar_of, visit_as_html, visit_as_text
from service_center.letters.composing.wording import Wording
from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.layout import isolated, wrapped

__all__ = [
    "MASK",
    "Content",
    "LetterContent",
    "Links",
    "OrderContent",
    "PieceInLetter",
    "ReceiptContent",
    "ServiceInLetter",
    "VisitContent",
    "Written",
    "addressed",
    "encoded_words",
    "letter_as_mail",
    "links_for",
    "masked_links",
    "subject_of",
    "told_of",
    "wrapped",
    "write",
]
MASK = "•" * 12
TOKEN = "TOKEN"  # noqa: S105  # where the secret stands in an address


@dataclass(frozen=True, slots=True)
class ServiceInLetter:
    """One kind of service that a letter speaks of, and the step of its reminder."""

    due: Due
    step: str


@dataclass(frozen=True, slots=True)
class PieceInLetter:
    """One piece. `rated`: its model has a pressure rating. `near`: the names of the boutiques of its owner's country.

    `complexity`: its calibre's, where that is known. `guarantee_to`: the last day of a guarantee that runs, and which
    one (`guarantee_by`).
    """

    name: str
    serial: str
    rated: bool
    boutique: str
    services: tuple[ServiceInLetter, ...]
    guarantee_to: date | None = None
    guarantee_by: CoveredBy = CoveredBy.BASE
    near: tuple[str, ...] = ()
    complexity: Complexity | None = None


@dataclass(frozen=True, slots=True)
class LetterContent:
    """All that a letter says. `as_of`: the day it speaks from. `wording`: in that language."""

    letter: int
    language: str
    owner_name: str
    as_of: date
    pieces: tuple[PieceInLetter, ...]
    wording: Wording

    @property
    def case(self) -> str:
        """Which letter it is, by kind and step: "overhaul.nudge", "several.invitation"."""
        asked = [(service.due.kind, service.step) for piece in self.pieces for service in piece.services]
        return words.case_of(len(self.pieces), asked)


@dataclass(frozen=True, slots=True)
class Links:
    """The addresses in a letter: its page, and the way to stop letters."""

    page: str
    stop: str


@dataclass(frozen=True, slots=True)
class Written:
    """A letter as the owner reads it. `unwrapped`: its text before it was broken into lines, for paper."""

    subject: str
    text: str
    html: str
    unwrapped: str


def links_for(page_token: str, stop_token: str) -> Links:
    """The links of a letter from its secrets. A letter that cannot be stopped has none to stop it."""
    return Links(
        page=_address("owner_pages:letter", page_token),
        stop=_address("owner_pages:stop_letters", stop_token) if stop_token else "",
    )


def _address(page: str, token: str) -> str:
    before, _token, after = _path(page).partition(TOKEN)
    return f"{settings.SITE_URL}{before}{quote(token)}{after}"


@cache
def _path(page: str) -> str:
    """Where a page stands, asked once a process: for each letter it would cost a third of its writing."""
    return reverse(page, kwargs={"token": TOKEN})


def masked_links() -> Links:
    """Links that open nothing: staff read a letter without acting as its owner."""
    return Links(page=f"{settings.SITE_URL}/o/{MASK}/", stop=f"{settings.SITE_URL}/o/stop/{MASK}/")


Content = LetterContent | VisitContent | ReceiptContent | OrderContent


def write(content: Content, links: Links) -> Written:
    """The words of a letter, whatever it is about."""
    if isinstance(content, VisitContent):
        subject, text = visit_as_text(content, links.page)
        return Written(subject, wrapped(text), visit_as_html(content, links.page), text)
    if isinstance(content, ReceiptContent):
        subject, text = receipt_as_text(content)
        return Written(subject, wrapped(text), receipt_as_html(content), text)
    if isinstance(content, OrderContent):
        subject, text = order_as_text(content, links.page)
        return Written(subject, wrapped(text), order_as_html(content, links.page), text)
    return _invitation(content, links)


def _invitation(content: LetterContent, links: Links) -> Written:
    """What its wording names and its records hold can neither break it nor keep it back."""
    wording, house = content.wording, settings.HOUSE_NAME
    owner = isolated(one_line(content.owner_name))
    about = _about(content, owner)
    said: dict[str, Any] = {
        "language": content.language,
        "subject": subject_of(content),
        "greeting": words.greeting(wording, owner),
        "opening": wording.say(f"{content.case}.opening", **about),
        "pieces": [told_of(piece, content.as_of, wording) for piece in content.pieces],
        "link": wording.say("frame.link"),
        "button": wording.say("frame.button"),
        "closing": wording.say("frame.closing", house=house),
        "reason": wording.say("frame.reason", house=house),
        "stop": wording.say("frame.stop"),
        "stop_link": wording.say("frame.stop_link"),
    }
    text = _text(said, links)
    return Written(said["subject"], wrapped(text), _html(said, links), text)


def subject_of(content: LetterContent) -> str:
    """The subject line."""
    wording = content.wording
    about = _about(content, isolated(one_line(content.owner_name)))
    return wording.subject(f"{content.case}.subject", **about)


def _about(content: LetterContent, owner: str) -> dict[str, str]:
    named = [(isolated(one_line(piece.name)), isolated(one_line(piece.serial))) for piece in content.pieces]
    return {"owner": owner, "house": settings.HOUSE_NAME} | words.named(content.language, named)


def letter_as_mail(
    content: Content,
    links: Links,
    *,
    to_name: str,
    to_address: str,
    message_id: str,
    more: Mapping[str, str] | None = None,
) -> bytes:
    """The letter as it is handed over. `more`: further headers."""
    written = write(content, links)
    attached = calendar_of(content) if isinstance(content, VisitContent) else []
    files: list[Attached] = []
    if isinstance(content, ReceiptContent):
        files = files_of(content)
    elif isinstance(content, OrderContent):
        files = papers_of(content)
    envelope = Envelope(to_name, to_address, message_id, content.language, links.stop)
    return mail(written.subject, written.text, written.html, envelope, attached=attached, files=files, more=more)


def told_of(piece: PieceInLetter, as_of: date, wording: Wording) -> dict[str, Any]:
    """What a letter of that day tells of one piece; its page tells the same."""
    name = isolated(one_line(piece.name))
    return {
        "name": name,
        "serial": isolated(one_line(piece.serial)),
        "where": words.where(wording, one_line(piece.boutique), [one_line(one) for one in piece.near]),
        "guarantee": (
            words.guarantee_runs(
                wording, piece.guarantee_to, piece.guarantee_by, {service.due.kind for service in piece.services}
            )
            if piece.guarantee_to
            else ""
        ),
        "services": [
            {
                "what": words.what(wording, service.due.kind),
                "why": words.why(wording, service.due, as_of, name),
                "caution": words.caution(wording, service.due),
                "takes": words.takes(wording, service.due.kind, piece.complexity, rated=piece.rated),
            }
            for service in piece.services
        ],
    }


def _text(said: dict[str, Any], links: Links) -> str:
    lines = [said["greeting"], "", said["opening"], ""]
    for piece in said["pieces"]:
        lines.append(f"{piece['name']}, {piece['serial']}")
        told = [piece["guarantee"], piece["where"]]
        for service in reversed(piece["services"]):
            told = [service["what"], service["why"], service["caution"], service["takes"], *told]
        lines += [*filter(None, told), ""]
    lines += [said["link"], links.page, "", said["closing"], settings.MAIL_FROM, ""]
    return "\n".join([*lines, said["reason"], said["stop_link"], links.stop])


def _html(said: dict[str, Any], links: Links) -> str:
    return filled(
        "letters/mail/letter.html",
        {
            "language": said["language"],
            "subject": in_title(said["subject"]),
            "house": in_html(settings.HOUSE_NAME),
            "greeting": in_html(said["greeting"]),
            "opening": paragraphs(said["opening"]),
            "pieces": [_piece_in_html(piece) for piece in said["pieces"]],
            "page_link": escape(links.page),
            "button": in_html(said["button"]),
            "closing": paragraphs(said["closing"]),
            "mail_from": escape(settings.MAIL_FROM),
            "reason": in_html(said["reason"]),
            "stop_link": escape(links.stop),
            "stop": in_html(said["stop"]),
        },
    )


def _piece_in_html(piece: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": in_html(piece["name"]),
        "serial": in_html(piece["serial"]),
        "services": [
            {
                "what": in_html(service["what"]),
                "why": in_html(service["why"]),
                "caution": _if_any(service["caution"]),
                "takes": in_html(service["takes"]),
            }
            for service in piece["services"]
        ],
        "guarantee": _if_any(piece["guarantee"]),
        "where": in_html(piece["where"]),
    }


def _if_any(text: str) -> Sequence[dict[str, str]]:
    return [{"paragraph": in_html(text)}] if text else []
