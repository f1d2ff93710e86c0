"""The week's plan on paper: a sheet for each watchmaker, to lie beside the bench."""

from service_center.papers.render import render
from service_center.papers.rules import PageSize
from service_center.planning.rules.weeks import week_name
from service_center.planning.week_plan.board import board_of
from service_center.planning.week_plan.models import WeekPlan

SIZES = (PageSize.A4, PageSize.LETTER)


def week_paper(plan: WeekPlan, *, size: PageSize, language: str, watchmaker: int | None = None) -> bytes:
    """The plan as PDF; of one watchmaker alone, where one is named. Who has nothing planned has no sheet."""
    board = board_of(plan, plan.monday)
    benches = [bench for bench in board.benches if not bench.is_empty and watchmaker in (None, bench.id)]
    context = {"plan": plan, "benches": benches, "week": week_name(plan.monday)}
    return render("planning/week_paper.html", context, size=size, language=language)
