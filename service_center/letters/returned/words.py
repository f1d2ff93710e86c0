"""How the desk reads what came back: whose fault it is, and why, in words."""

from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from service_center.letters.models import DeliveryReport, StoppedAddress
from service_center.letters.rules.bounces import SOFT_ONES_THAT_STOP, SOFT_ONES_WITHIN, Happened
from service_center.letters.rules.codes import Fault, Status
from service_center.letters.rules.words import ReportSource

# By subject and detail of RFC 3463; the text after each code is ours.
WHY: dict[tuple[int, int], str | Promise] = {
    (1, 0): _("The address is not valid there."),
    (1, 1): _("There is no such mailbox."),
    (1, 2): _("There is no such domain."),
    (1, 3): _("The address is written in a way that no server takes."),
    (1, 4): _("The address fits more than one mailbox."),
    (1, 6): _("The mailbox has moved, and nobody said where to."),
    (1, 10): _("The domain takes no mail at all."),
    (2, 1): _("The mailbox is closed."),
    (2, 2): _("The mailbox is full."),
    (4, 1): _("The owner's mail server did not answer."),
    (4, 4): _("No mail server is known for the domain."),
    (4, 7): _("It could not be delivered in time."),
}
FAULTS: dict[Fault, str | Promise] = {
    Fault.ADDRESS: _("The address takes no mail."),
    Fault.FOR_NOW: _("It could not be delivered for now."),
    Fault.POLICY: _("The owner's mail server does not trust ours."),
    Fault.MESSAGE: _("The letter itself was not taken."),
    Fault.WISH: _("The owner wants no more letters."),
    Fault.NONE: _("Nothing is wrong."),
}
SOURCES: dict[ReportSource, str | Promise] = {
    ReportSource.HAND_OVER: _("our mail server, at once"),
    ReportSource.MAIL: _("a report by mail"),
    ReportSource.PROVIDER: _("the mail provider"),
}
# Which mark of the desk's lists a fault bears.
MARKS = {
    Fault.ADDRESS: "refused",
    Fault.FOR_NOW: "waiting",
    Fault.POLICY: "in_doubt",
    Fault.MESSAGE: "in_doubt",
    Fault.WISH: "ended",
    Fault.NONE: "sent",
}
HAPPENED: dict[Happened, str | Promise] = {
    Happened.FAILED: _("not delivered"),
    Happened.DELAYED: _("delayed"),
    Happened.DELIVERED: _("delivered"),
    Happened.RELAYED: _("passed on"),
    Happened.EXPANDED: _("passed on to several"),
    Happened.COMPLAINED: _("called unwanted by the owner"),
    Happened.UNSUBSCRIBED: _("stopped by the owner"),
}


def told_of(report: DeliveryReport) -> dict[str, object]:
    """A report for a page, with what its words mean."""
    return {
        "report": report,
        "why": why(report),
        "happened": HAPPENED[Happened(report.happened)],
        "mark": MARKS[Fault(report.fault)],
        "source": SOURCES[ReportSource(report.source)],
    }


def why(report: DeliveryReport) -> str:
    """Why a letter came back, in one sentence."""
    fault = Fault(report.fault)
    return (
        str(_because(report.status) or FAULTS[fault]) if fault in (Fault.ADDRESS, Fault.FOR_NOW) else str(FAULTS[fault])
    )


def why_stopped(stopped: StoppedAddress) -> str:
    """Why no letter goes to an address, in one sentence."""
    reason = str(_because(stopped.status) or FAULTS[Fault(stopped.fault)])
    if stopped.fault != Fault.FOR_NOW:
        return reason
    several = _now("%(number)s deliveries failed within %(days)s days; the last:")
    return f"{several % {'number': SOFT_ONES_THAT_STOP, 'days': SOFT_ONES_WITHIN.days}} {reason}"


def _because(code: str) -> str | Promise | None:
    status = Status.found_in(code)
    return WHY.get((status.subject, status.detail)) if status else None
