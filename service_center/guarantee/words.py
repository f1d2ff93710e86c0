"""A decision in words, in the language that is active. What an owner may read too."""

from datetime import date

from django.utils.translation import gettext as _

from service_center.book.days import day_written
from service_center.guarantee.rules import CoveredBy, Decision, Enrolment, EnrolmentState, Reason


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
        by.value: day_written(one.to_on) if (one := decision.of(by)) else ""
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
        Reason.CHECK_MISSED: _(
            "The extended guarantee ended on %(extension)s, since no tightness check passed in time after that. The "
            "guarantee asks for one every year."
        ),
        Reason.EXTENSION_OVER: _("The extended guarantee ended on %(extension)s."),
    }


def notes(decision: Decision, *, extension: bool = True) -> list[str]:
    """What else there is to know of the dates, each in one sentence; `extension`: also until when it can be had."""
    found = []
    if decision.perhaps:
        found.append(
            _(
                "%(name)s: the last day, %(last)s, was no working day. Where the law moves such a day to the next "
                "working day, it still runs to %(moved)s: a person decides."
            )
            % {
                "last": day_written(decision.perhaps.to_on),
                "name": name_of(decision.perhaps.by),
                "moved": day_written(decision.perhaps.moved_to),
            }
        )
    elif decision.cover and decision.cover.moved_to != decision.cover.to_on:
        found.append(
            _(
                "%(last)s is no working day. Where the law moves such a day to the next working day, the guarantee "
                "runs to %(moved)s."
            )
            % {"last": day_written(decision.cover.to_on), "moved": day_written(decision.cover.moved_to)}
        )
    if extension and decision.enrol_by:
        found.append(
            _("It can be extended until %(day)s, that day included.") % {"day": day_written(decision.enrol_by)}
        )
    return found


def enrolment_sentence(found: Enrolment, enrolled_on: date | None) -> str:
    """Where a piece stands with the extension, in one sentence."""
    days = {
        "base": day_written(found.base_to) if found.base_to else "",
        "extended": day_written(found.extended_to) if found.extended_to else "",
        "on": day_written(enrolled_on) if enrolled_on else "",
    }
    return {
        EnrolmentState.OPEN: _(
            "You can register the extended guarantee until %(base)s, that day included. It then runs to %(extended)s."
        ),
        EnrolmentState.ENROLLED: _("The extended guarantee was registered on %(on)s. It runs to %(extended)s."),
        EnrolmentState.OVER: _(
            "The extended guarantee can no longer be registered: this was possible until %(base)s, the last day of "
            "the guarantee."
        ),
        EnrolmentState.NO_SALE_DATE: _(
            "The extended guarantee cannot be registered here, since we do not know the day of sale. Please show the "
            "guarantee card or the bill of sale at a boutique."
        ),
    }[found.state] % days


def extension_conditions(found: Enrolment, *, rated: bool) -> list[str]:
    """What the owner agrees to who registers the extension, each in one sentence (design/intake.md, guarantee)."""
    if found.base_to is None or found.extended_to is None:
        return []
    days = {"base": day_written(found.base_to), "extended": day_written(found.extended_to)}
    said = [
        _("It begins when the guarantee from the day of sale ends, on %(base)s, and runs to %(extended)s.") % days,
        _("It covers faults of manufacture."),
        _(
            "It does not cover parts that wear, accidents, and what follows when somebody other than our workshop has "
            "opened the watch."
        ),
    ]
    if rated:
        said.append(
            _(
                "Please have the tightness checked every year: damage by water after a check that was missed is not "
                "covered."
            )
        )
    return said


def statutory_note() -> str:
    """What stands beside every decision."""
    return _(
        "Your rights under the law stand beside this guarantee and are not limited by it. They differ from country "
        "to country."
    )
