"""A decision in words, in the language that is active. What an owner may read too."""

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from service_center.guarantee.rules import CoveredBy, Decision, Reason


def name_of(by: CoveredBy) -> str:
    """What a guarantee is called."""
    return {
        CoveredBy.BASE: _("Guarantee"),
        CoveredBy.WORK: _("Guarantee on our work"),
        CoveredBy.EXTENSION: _("Extended guarantee"),
        CoveredBy.NONE: _("No guarantee"),
    }[by]


def sentence(decision: Decision) -> str:
    """Why the decision is as it is, in one sentence."""
    dates = {
        by.value: _day(one.to_on) if (one := decision.of(by)) else ""
        for by in (CoveredBy.BASE, CoveredBy.WORK, CoveredBy.EXTENSION)
    }
    return _reasons()[decision.reason] % dates


def _reasons() -> dict[Reason, str]:
    return {
        Reason.BASE_RUNS: _("The guarantee from the day of sale runs to %(base)s, that day included."),
        Reason.WORK_RUNS: _(
            "The guarantee on our own work runs to %(work)s, that day included. It covers that work and the parts "
            "fitted then."
        ),
        Reason.EXTENSION_RUNS: _("The extended guarantee runs to %(extension)s, that day included."),
        Reason.NO_SALE_DATE: _("The day of sale is not known. The guarantee card or the bill of sale can show it."),
        Reason.NOT_EXTENDED: _("The guarantee ended on %(base)s and was not extended."),
        Reason.ENROLLED_LATE: _("The guarantee ended on %(base)s; the extension was asked for after that day."),
        Reason.ENROLLED_BEFORE_SALE: _(
            "The guarantee ended on %(base)s; the extension is dated before the day of sale. One of the two dates "
            "may be wrong."
        ),
        Reason.EXTENSION_OVER: _("The extended guarantee ended on %(extension)s."),
    }


def notes(decision: Decision) -> list[str]:
    """What else there is to know of the dates, each in one sentence."""
    found = []
    if decision.perhaps:
        found.append(
            _(
                "%(name)s: the last day, %(last)s, was no working day. Where the law moves such a day to the next "
                "working day, it still runs to %(moved)s: a person decides."
            )
            % {
                "last": _day(decision.perhaps.to_on),
                "name": name_of(decision.perhaps.by),
                "moved": _day(decision.perhaps.moved_to),
            }
        )
    elif decision.cover and decision.cover.moved_to != decision.cover.to_on:
        found.append(
            _(
                "%(last)s is no working day. Where the law moves such a day to the next working day, the guarantee "
                "runs to %(moved)s."
            )
            % {"last": _day(decision.cover.to_on), "moved": _day(decision.cover.moved_to)}
        )
    if decision.enrol_by:
        found.append(_("It can be extended until %(day)s, that day included.") % {"day": _day(decision.enrol_by)})
    return found


def statutory_note() -> str:
    """What stands beside every decision."""
    return _(
        "Your rights under the law stand beside this guarantee and are not limited by it. They differ from country "
        "to country."
    )


def _day(day: date) -> str:
    return date_format(day, "DATE_FORMAT")
