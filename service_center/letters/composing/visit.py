"""The letter about a visit that was booked, moved or cancelled, with its entry for the owner's calendar."""

from dataclasses import dataclass
from datetime import date, time
from html import escape
from typing import Any

from django.conf import settings

from service_center.letters.composing.as_html import filled, in_html, in_title, paragraphs
from service_center.letters.composing.mail import Attached
from service_center.letters.composing.wording import Wording, day_in
from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.layout import isolated
from service_center.letters.rules.words import VisitNews

METHODS = {VisitNews.BOOKED: "PUBLISH", VisitNews.MOVED: "PUBLISH", VisitNews.CANCELLED: "CANCEL"}
FILE_NAME = "visit.ics"


@dataclass(frozen=True, slots=True)
class VisitContent:
    """All that a confirmation says. `pieces`: each one's name and serial; `entry`: the calendar's file, if any."""

    language: str
    owner_name: str
    news: VisitNews
    day: date
    at: time
    boutique: str
    pieces: tuple[tuple[str, str], ...]
    wording: Wording
    entry: str = ""


def visit_as_text(content: VisitContent, page_link: str) -> tuple[str, str]:
    """Subject, and plain text that is not yet broken into lines."""
    said = _said(content)
    lines = [said["greeting"], "", said["opening"], "", *said["pieces"], "", said["calendar"], ""]
    lines += [said["link"], page_link, "", said["closing"], settings.MAIL_FROM, "", said["reason"]]
    return said["subject"], "\n".join(lines)


def visit_as_html(content: VisitContent, page_link: str) -> str:
    """The same for mail programs that show HTML."""
    said = _said(content)
    return filled(
        "letters/mail/visit.html",
        {
            "language": content.language,
            "subject": in_title(said["subject"]),
            "house": in_html(settings.HOUSE_NAME),
            "greeting": in_html(said["greeting"]),
            "opening": paragraphs(said["opening"]),
            "pieces": [{"named": in_html(one)} for one in said["pieces"]],
            "calendar": in_html(said["calendar"]),
            "page_link": escape(page_link),
            "button": in_html(said["button"]),
            "closing": paragraphs(said["closing"]),
            "mail_from": escape(settings.MAIL_FROM),
            "reason": in_html(said["reason"]),
        },
    )


def calendar_of(content: VisitContent) -> list[Attached]:
    """The entry as a part of the mail. Its method is said beside it too (RFC 6047, 2.4)."""
    if not content.entry:
        return []
    kind = f'text/calendar; charset="utf-8"; method={METHODS[content.news]}'
    return [Attached(FILE_NAME, kind, content.entry.encode())]


def _said(content: VisitContent) -> dict[str, Any]:
    wording, house = content.wording, settings.HOUSE_NAME
    owner = isolated(one_line(content.owner_name))
    about = {
        "owner": owner,
        "house": house,
        "boutique": isolated(one_line(content.boutique)),
        "day": day_in(content.language, content.day),
        "time": f"{content.at:%H:%M}",
    }
    case = f"visit.{content.news.value}"
    pieces = [", ".join(isolated(one_line(part)) for part in named if part) for named in content.pieces]
    gone = content.news is VisitNews.CANCELLED
    return {
        "subject": wording.subject(f"{case}.subject", **about),
        "greeting": wording.say("frame.greeting", owner=owner) if owner else wording.say("frame.greeting_unnamed"),
        "opening": wording.say(f"{case}.opening", **about),
        "pieces": pieces if gone or not pieces else [wording.say("visit.bring"), *pieces],
        "calendar": wording.say("visit.calendar_off" if gone else "visit.calendar"),
        # Of a visit that is cancelled there is nothing left to move.
        "link": wording.say("visit.link_off" if gone else "visit.link"),
        "button": wording.say("visit.button_off" if gone else "visit.button"),
        "closing": wording.say("frame.closing", house=house),
        "reason": wording.say("visit.reason", house=house),
    }
