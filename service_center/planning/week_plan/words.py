"""What a week's plan says in words."""

from collections.abc import Sequence

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from service_center.planning.rules.week_plan.cost import MINUTE_LEFT_OUT, PROMISED_WITHIN
from service_center.planning.rules.week_plan.why import Why
from service_center.planning.week_plan.models import WeekPlan
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.words import OPERATIONS

WHY = {
    Why.NO_BENCH: gettext_lazy("no such watchmaker is here this week"),
    Why.SKILL: gettext_lazy("this watchmaker may not do such a calibre"),
    Why.NOT_THERE: gettext_lazy("this watchmaker is not at the bench on that day"),
    Why.RELEASED: gettext_lazy("the piece cannot be on a bench by then: it waits, or rests"),
    Why.SEQUENCE: gettext_lazy("the work before it, or its wait, is not over by then"),
    Why.HOURS: gettext_lazy("the day is full of what else is fixed there"),
    Why.PAST: gettext_lazy("its day is over, and the work was not done"),
    Why.BEFORE: gettext_lazy("the work before it finds no place until then"),
}

FAULTS = {
    "nobody": gettext_lazy("Nobody is at a bench in what is left of this week. Watchmakers and their days are kept with the benches."),
    "broken": gettext_lazy("The plan that was found broke a rule and was not kept. Plan again; tell whoever runs this site if it comes back."),
}  # fmt: skip

# Names that are too long for a day of a table.
SHORT = {
    Operation.DIAGNOSIS: gettext_lazy("Diagnosis"),
    Operation.ASSEMBLY: gettext_lazy("Assembly"),
    Operation.CELL: gettext_lazy("Cell"),
    Operation.STRAP: gettext_lazy("Strap"),
}


def work_in_words(operations: Sequence[Operation], part: int = 0, parts: int = 0) -> str:
    """One operation by its name, several from the first to the last."""
    names = [str(SHORT.get(one, OPERATIONS[one])) for one in operations]
    if len(names) > 1:
        return _("%(first)s to %(last)s") % {"first": names[0], "last": names[-1].lower()}
    if parts:
        return _("%(work)s (%(part)d of %(parts)d)") % {"work": names[0], "part": part, "parts": parts}
    return names[0]


def minutes_in_words(minutes: int) -> str:
    """Hours and minutes, such as 6:30."""
    return f"{minutes // 60}:{minutes % 60:02d}"


def gap_in_words(plan: WeekPlan) -> str:
    """How far from the best the plan can be: what is proven, and what nobody knows."""
    if plan.cost is None or plan.bound is None or plan.days_bound is None or plan.days_late is None:
        return ""
    if plan.cost <= plan.bound:
        return _("It is proven that no plan of this week is better.")
    if days := plan.days_late - plan.days_bound:
        said = ngettext(
            "It is proven that no plan saves more than %(n)d of these days; whether one saves it is not known.",
            "It is proven that no plan saves more than %(n)d of these days; whether one saves any is not known.",
            days,
        )
        return said % {"n": days}
    said = _(
        "It is proven that no plan has fewer days late. Of the work without room, another plan that is no later could "
        "take in at most as much as %(hours)s hours of what is promised this week; whether one does is not known."
    )
    return said % {"hours": number_format(_pressing_hours(plan.cost - plan.bound), 1)}


def _pressing_hours(gap: int) -> float:
    """A gap in cost as hours of the work that weighs most, rounded up to tenths."""
    tenth = MINUTE_LEFT_OUT * PROMISED_WITHIN[0] * 6
    return -(-gap // tenth) / 10


def result_in_words(plan: WeekPlan) -> str:
    """Days late and work left out, in a sentence."""
    late = ngettext(
        "Orders are late by %(n)d day in all, beyond what no plan can help",
        "Orders are late by %(n)d days in all, beyond what no plan can help",
        plan.days_late or 0,
    ) % {"n": plan.days_late or 0}
    if not plan.days_late:
        late = _("No order becomes late that a plan can help")
    return _(
        "%(late)s; %(left)s hours of work find no room this week; the busiest bench has %(load)d %% of its hours."
    ) % {
        "late": late,
        "left": number_format(round((plan.minutes_left_out or 0) / 60)),
        "load": plan.load or 0,
    }
