"""The letter that tells an owner of an order in the house: the estimate is ready, or the piece can be fetched."""

from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Any

from django.conf import settings

from service_center.letters.composing.as_html import filled, in_html, in_title, paragraphs
from service_center.letters.composing.mail import Attached
from service_center.letters.composing.wording import Wording, day_in
from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.layout import isolated
from service_center.letters.rules.words import OrderNews


@dataclass(frozen=True, slots=True)
class OrderContent:
    """All that the letter says. `total`: what the owner would pay, as they read it; `paper`: the estimate as PDF."""

    language: str
    owner_name: str
    news: OrderNews
    number: str
    name: str
    serial: str
    day: date
    boutique: str
    total: str
    wording: Wording
    paper: bytes = b""


def order_as_text(content: OrderContent, page_link: str) -> tuple[str, str]:
    """Subject, and plain text that is not yet broken into lines."""
    said = _said(content)
    lines = [said["greeting"], "", said["opening"], "", said["link"], page_link, ""]
    return said["subject"], "\n".join([*lines, said["closing"], settings.MAIL_FROM, "", said["reason"]])


def order_as_html(content: OrderContent, page_link: str) -> str:
    """The same for mail programs that show HTML."""
    said = _said(content)
    return filled(
        "letters/mail/order.html",
        {
            "language": content.language,
            "subject": in_title(said["subject"]),
            "house": in_html(settings.HOUSE_NAME),
            "greeting": in_html(said["greeting"]),
            "opening": paragraphs(said["opening"]),
            "page_link": escape(page_link),
            "button": in_html(said["button"]),
            "closing": paragraphs(said["closing"]),
            "mail_from": escape(settings.MAIL_FROM),
            "reason": in_html(said["reason"]),
        },
    )


def papers_of(content: OrderContent) -> list[Attached]:
    """The estimate, where there is one."""
    return [Attached(f"{content.number}-estimate.pdf", "application/pdf", content.paper)] if content.paper else []


def _said(content: OrderContent) -> dict[str, Any]:
    wording, house = content.wording, settings.HOUSE_NAME
    owner = isolated(one_line(content.owner_name))
    case = f"order.{content.news.value}"
    about = {
        "owner": owner,
        "house": house,
        "piece": isolated(one_line(content.name)),
        "serial": isolated(one_line(content.serial)),
        "number": isolated(one_line(content.number)),
        "day": day_in(content.language, content.day),
        "boutique": isolated(one_line(content.boutique)),
        "total": one_line(content.total),
    }
    return {
        "subject": wording.subject(f"{case}.subject", **about),
        "greeting": wording.say("frame.greeting", owner=owner) if owner else wording.say("frame.greeting_unnamed"),
        "opening": wording.say(f"{case}.opening", **about),
        "button": wording.say(f"{case}.button"),
        "link": wording.say(f"{case}.link"),
        "closing": wording.say("frame.closing", house=house),
        "reason": wording.say("order.reason", house=house),
    }
