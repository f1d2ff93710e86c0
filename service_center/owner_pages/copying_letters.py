"""An owner's letters, what they tell and what became of them on their way, for the copy of their data (GDPR, Art. 15)."""

from datetime import date, datetime
from typing import Any

from service_center.book.models import Owner
from service_center.letters.models import DeliveryReport, Letter, OwnerLink
from service_center.letters.queries.listing import reminders_of
from service_center.letters.rules.words import LetterSort

Record = dict[str, Any]


def letters_of(owner: Owner) -> list[Letter]:
    """Every letter to an owner with what it tells, without the papers that went with it. One statement."""
    letters = Letter.objects.filter(owner=owner).select_related("order_word", "receipt", "confirmation__boutique")
    return list(letters.defer("order_word__paper", "receipt__paper").order_by("planned_on", "pk"))


def letters_told(owner: Owner) -> list[Record]:
    """The same as plain values. Four statements."""
    letters = letters_of(owner)
    reminders = reminders_of(letters)
    links: dict[int, list[OwnerLink]] = {}
    for link in OwnerLink.objects.filter(letter__in=letters).order_by("pk"):
        links.setdefault(link.letter_id, []).append(link)
    reports: dict[int, list[DeliveryReport]] = {}
    for report in DeliveryReport.objects.filter(letter__in=letters).order_by("happened_at", "pk"):
        reports.setdefault(report.letter_id, []).append(report)
    return [
        {
            "number": one.pk,
            "sort": one.sort,
            "how": one.channel,
            "language": one.language,
            "planned_on": _day(one.planned_on),
            "state": one.state,
            "sent_at": _moment(one.sent_at),
            "to": one.email,
            "about": [
                {"serial": reminder.piece.serial, "kind": reminder.kind, "due_on": _day(reminder.due_on)}
                for reminder in reminders[one.pk]
            ],
            "tells_of": _tells_of(one),
            "links": [
                {
                    "opens": link.purpose,
                    "until": _moment(link.expires_at),
                    "withdrawn_at": _moment(link.withdrawn_at),
                }
                for link in links.get(one.pk, [])
            ],
            "on_its_way": [
                {"at": _moment(report.happened_at), "what": report.happened, "status": report.status}
                for report in reports.get(one.pk, [])
            ],
        }
        for one in letters
    ]


def _tells_of(letter: Letter) -> Record | None:
    """What a letter tells that reminds of nothing."""
    if letter.sort == LetterSort.ORDER:
        word = letter.order_word
        return {"order": word.number, "serial": word.serial, "news": word.news}
    if letter.sort == LetterSort.RECEIPT:
        return {"receipt": letter.receipt.number, "serial": letter.receipt.serial}
    if letter.sort == LetterSort.CONFIRMATION:
        told = letter.confirmation
        return {"visit": _day(told.day), "time": f"{told.at:%H:%M}", "boutique": str(told.boutique), "news": told.news}
    return None


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _moment(moment: datetime | None) -> str | None:
    return moment.isoformat(timespec="seconds") if moment else None
