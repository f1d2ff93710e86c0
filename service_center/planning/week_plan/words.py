"""What a week's plan says in words."""

from collections.abc import Sequence

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from service_center.planning.rules.week_plan.cost import DAY_LATE
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


def work_in_words(operations: Sequence[Operation], part: int = 0, parts: int = 0) -> str:
    """One operation by its name, several from the first to the last."""
    if len(operations) == 1:
        said = str(OPERATIONS[operations[0]])
        return _("%(work)s (%(part)d of %(parts)d)") % {"work": said, "part": part, "parts": parts} if parts else said
    return _("%(first)s to %(last)s") % {
        "first": OPERATIONS[operations[0]],
        "last": str(OPERATIONS[operations[-1]]).lower(),
    }


def minutes_in_words(minutes: int) -> str:
    """Hours and minutes, such as 6:30."""
    return f"{minutes // 60}:{minutes % 60:02d}"


def gap_in_words(plan: WeekPlan) -> str:
    """How far from the best the plan can be. No plan is better than the bound; whether one is so good, nobody knows."""
    if plan.cost is None or plan.bound is None:
        return ""
    gap = plan.cost - plan.bound
    if gap <= 0:
        return _("No plan of this week is better.")
    days = gap // DAY_LATE
    if days:
        said = ngettext(
            "A better plan, if there is one, saves at most %(n)d day late; none costs more than %(share)s %% less.",
            "A better plan, if there is one, saves at most %(n)d days late; none costs more than %(share)s %% less.",
            days,
        )
    else:
        said = _(
            "No plan has fewer days late; one that leaves less out, if there is one, costs at most %(share)s %% less."
        )
    return said % {"n": days, "share": number_format(_rounded_up(100 * gap / plan.cost), 1)}


def _rounded_up(share: float) -> float:
    return -(-share * 10 // 1) / 10


def result_in_words(plan: WeekPlan) -> str:
    """Days late and work left out, in a sentence."""
    late = ngettext(
        "%(n)d day late that could have been helped", "%(n)d days late that could have been helped", plan.days_late or 0
    ) % {"n": plan.days_late or 0}
    if not plan.days_late:
        late = _("No order is late that could have been helped")
    return _(
        "%(late)s; %(left)s hours of work find no room this week; the busiest bench has %(load)d %% of its hours."
    ) % {
        "late": late,
        "left": minutes_in_words(plan.minutes_left_out or 0),
        "load": plan.load or 0,
    }
