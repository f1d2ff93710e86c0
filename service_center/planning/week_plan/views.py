"""The week's plan of the benches: looking, having it planned, deciding a line, the paper."""

from datetime import date, timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.papers.rules import PageSize
from service_center.planning.rules.weeks import WEEK, week_name
from service_center.planning.week_plan import actions
from service_center.planning.week_plan.board import board_of
from service_center.planning.week_plan.forms import LineForm
from service_center.planning.week_plan.models import PlanLine, WeekPlan
from service_center.planning.week_plan.papers import SIZES
from service_center.planning.week_plan.papers import week_paper as paper_of
from service_center.planning.week_plan.queries import lines_in_order, monday_at_hand, rows_of
from service_center.planning.week_plan.words import FAULTS, gap_in_words, result_in_words, work_in_words
from service_center.workshop.calendars.models import Watchmaker

LOOKS_AGAIN_AFTER = 5  # seconds


@require_safe
def this_week(request: HttpRequest) -> HttpResponse:
    """The week at hand: on a Sunday that is the one to come."""
    return redirect("planning:week_plan", monday_at_hand(timezone.localdate()))


@require_safe
def week_plan(request: HttpRequest, monday: date) -> HttpResponse:
    """Watchmakers by days. While the week is worked out the page looks again by itself. Twelve statements."""
    plan = WeekPlan.objects.filter(monday=monday).first()
    context = {
        "monday": monday,
        "sunday": monday + timedelta(days=6),
        "week": week_name(monday),
        "before": monday - WEEK,
        "after": monday + WEEK,
        "plan": plan,
        "board": board_of(plan, monday),
        "result": result_in_words(plan) if plan and plan.planned_at else "",
        "gap": gap_in_words(plan) if plan else "",
        "fault": FAULTS.get(plan.fault, "") if plan else "",
        "may_decide": may_open("planning:plan_line", staff_of(request).role),
        "is_over": monday + WEEK <= timezone.localdate(),
        "today": timezone.localdate(),
    }
    response = render(request, "planning/week_plan.html", context)
    if plan and plan.wanted:
        response["Refresh"] = str(LOOKS_AGAIN_AFTER)
    return response


@require_POST
def plan_again(request: HttpRequest, monday: date) -> HttpResponse:
    """Have the week planned around what is fixed."""
    today = timezone.localdate()
    if monday + WEEK <= today:
        messages.error(request, _("This week is over."))
    else:
        actions.want_plan(monday, as_of=today, at=timezone.now(), by=staff_of(request))
    return redirect("planning:week_plan", monday)


@require_http_methods(["GET", "HEAD", "POST"])
def plan_line(request: HttpRequest, pk: int) -> HttpResponse:
    """One stretch of the plan: fix it where it is, move it, or leave it to the plan again."""
    line = get_object_or_404(PlanLine.objects.select_related("plan"), pk=pk)
    plan, today = line.plan, timezone.localdate()
    row = next(one for one in rows_of(lines_in_order(plan)) if pk in one.lines)
    board = board_of(plan, plan.monday)
    at = {"watchmaker": row.watchmaker, "day": row.day.isoformat()}
    form = LineForm(request.POST if request.POST.get("deed") == "fix" else None, initial=at, board=board, as_of=today)
    if request.method == "POST":
        try:
            if request.POST.get("deed") == "leave":
                actions.leave_to_plan(row.lines, as_of=today, at=timezone.now(), by=staff_of(request))
                messages.success(request, _("The next plan decides about this work again."))
                return redirect("planning:week_plan", plan.monday)
            if form.is_valid():
                watchmaker = Watchmaker.objects.get(pk=form.cleaned_data["watchmaker"])
                actions.fix_lines(
                    row.lines, watchmaker=watchmaker, day=form.cleaned_data["day"],
                    as_of=today, at=timezone.now(), by=staff_of(request),
                )  # fmt: skip
                messages.success(request, _("This work is fixed there. The rest of the week is planned around it."))
                return redirect("planning:week_plan", plan.monday)
        except actions.LineGone:
            messages.warning(request, _("The plan has changed since you looked. This is how it is now."))
            return redirect("planning:week_plan", plan.monday)
    name = next((bench.name for bench in board.benches if bench.id == row.watchmaker), "")
    context = {
        "row": row, "form": form, "plan": plan, "week": week_name(plan.monday), "name": name,
        "work": work_in_words(row.operations, row.part, row.parts),
    }  # fmt: skip
    return render(request, "planning/plan_line.html", context, status=422 if form.errors else 200)


@require_safe
def week_paper(request: HttpRequest, monday: date) -> HttpResponse:
    """The plan on paper, A4 unless `?size=letter`; `?watchmaker=` for one sheet."""
    plan = get_object_or_404(WeekPlan, monday=monday, planned_at__isnull=False)
    size = next((one for one in SIZES if one.value == request.GET.get("size")), PageSize.A4)
    asked = request.GET.get("watchmaker", "")
    watchmaker = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 10 else None
    content = paper_of(plan, size=size, language=get_language() or "en", watchmaker=watchmaker)
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="benches-{week_name(monday)}.pdf"'
    return response
