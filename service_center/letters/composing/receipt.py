"""The letter that brings an owner the receipt of what they left with us, and the very text that was signed."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.conf import settings

from service_center.letters.composing.as_html import filled, in_html, in_title, paragraphs
from service_center.letters.composing.mail import Attached
from service_center.letters.composing.wording import Wording, day_in
from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.layout import isolated


@dataclass(frozen=True, slots=True)
class ReceiptContent:
    """All that the letter says. `paper`: the PDF; `signed`: the signed text, empty where nobody signed."""

    language: str
    owner_name: str
    number: str
    name: str
    serial: str
    day: date
    boutique: str
    wording: Wording
    paper: bytes = b""
    signed: str = ""


def receipt_as_text(content: ReceiptContent) -> tuple[str, str]:
    """Subject, and plain text that is not yet broken into lines."""
    said = _said(content)
    lines = [said["greeting"], "", said["opening"], *said["about"], "", said["closing"], settings.MAIL_FROM, ""]
    return said["subject"], "\n".join([*lines, said["reason"]])


def receipt_as_html(content: ReceiptContent) -> str:
    """The same for mail programs that show HTML."""
    said = _said(content)
    return filled(
        "letters/mail/receipt.html",
        {
            "language": content.language,
            "subject": in_title(said["subject"]),
            "house": in_html(settings.HOUSE_NAME),
            "greeting": in_html(said["greeting"]),
            "opening": paragraphs(said["opening"]),
            "about": [{"sentence": in_html(one)} for one in said["about"]],
            "closing": paragraphs(said["closing"]),
            "mail_from": in_html(settings.MAIL_FROM),
            "reason": in_html(said["reason"]),
        },
    )


def files_of(content: ReceiptContent) -> list[Attached]:
    """The receipt, and the signed text in the very bytes whose mark (SHA-256) is printed on it."""
    paper = Attached(f"{content.number}.pdf", "application/pdf", content.paper)
    if not content.signed:
        return [paper]
    return [paper, Attached(f"{content.number}-signed.txt", "text/plain", content.signed.encode())]


def _said(content: ReceiptContent) -> dict[str, Any]:
    wording, house = content.wording, settings.HOUSE_NAME
    owner = isolated(one_line(content.owner_name))
    about = {
        "owner": owner,
        "house": house,
        "piece": isolated(one_line(content.name)),
        "serial": isolated(one_line(content.serial)),
        "number": isolated(one_line(content.number)),
        "day": day_in(content.language, content.day),
        "boutique": isolated(one_line(content.boutique)),
    }
    return {
        "subject": wording.subject("receipt.subject", **about),
        "greeting": wording.say("frame.greeting", owner=owner) if owner else wording.say("frame.greeting_unnamed"),
        "opening": wording.say("receipt.opening", **about),
        "about": [*([wording.say("receipt.signed")] if content.signed else []), wording.say("receipt.keep")],
        "closing": wording.say("frame.closing", house=house),
        "reason": wording.say("receipt.reason", house=house),
    }
