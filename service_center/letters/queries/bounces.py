"""What came back, which addresses are stopped, and what the house itself must mend."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service_center.letters.models import DeliveryReport, Letter, ReportBox, StoppedAddress
from service_center.letters.rules.codes import Fault

SHOWN = 50
# The house's own trouble stands on the desk's pages for so long after it was last heard of.
ALARM_LASTS = timedelta(days=7)
OURS = (Fault.POLICY, Fault.MESSAGE)
TO_READ = (Fault.ADDRESS, Fault.FOR_NOW, Fault.POLICY, Fault.MESSAGE, Fault.WISH)


@dataclass(frozen=True, slots=True)
class Alarm:
    """Refusals that are the house's to mend: how many lately, counted no further than `SHOWN`, and the last."""

    count: int
    more: bool
    last: DeliveryReport


@dataclass(frozen=True, slots=True)
class StoppedPage:
    """Stopped addresses, the latest first. `following`: where the next page begins; None on the last."""

    rows: Sequence[StoppedAddress]
    following: int | None


def alarm(now: datetime) -> Alarm | None:
    """What mail servers have against the house, if anything lately. One statement, by index."""
    rows = DeliveryReport.objects.filter(fault__in=OURS, happened_at__gte=now - ALARM_LASTS)
    found = list(rows.order_by("-happened_at", "-pk")[: SHOWN + 1])
    return Alarm(min(len(found), SHOWN), len(found) > SHOWN, found[0]) if found else None


def latest_failures() -> list[DeliveryReport]:
    """What the desk reads of the reports: everything but good news and delays, the latest first. One statement."""
    rows = DeliveryReport.objects.filter(fault__in=TO_READ).select_related("letter__owner")
    return list(rows.order_by("-happened_at", "-pk")[:SHOWN])


def stopped_addresses(before: int | None) -> StoppedPage:
    """A page of stopped addresses with the owner to whom the letter went. One statement, by index."""
    rows = StoppedAddress.objects.select_related("letter__owner").order_by("-pk")
    found = list((rows.filter(pk__lt=before) if before else rows)[: SHOWN + 1])
    return StoppedPage(found[:SHOWN], found[SHOWN - 1].pk if len(found) > SHOWN else None)


def stop_of(email: str) -> StoppedAddress | None:
    """Why no letter goes to an address, if none does. One statement, by index."""
    return StoppedAddress.objects.filter(email=email.lower()).first() if email else None


def reports_of(letter: Letter) -> list[DeliveryReport]:
    """What was said about one letter on its way, in order."""
    return list(letter.reports.order_by("happened_at", "pk"))


def boxes() -> list[ReportBox]:
    """Where returned mail is read from, and what keeps us from it. One statement."""
    return list(ReportBox.objects.exclude(name="turn").order_by("name"))
