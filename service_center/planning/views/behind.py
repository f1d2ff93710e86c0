"""What lies behind one bar: the orders, the letters that are out, and the invitations to come."""

from datetime import date, timedelta
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from service_center.book.rules import ServiceKind
from service_center.planning.queries import behind as queries
from service_center.planning.queries.pictures import latest_picture
from service_center.planning.rules.behind import invited_for, orders_of_week
from service_center.planning.rules.picture import Picture, SkillWeeks
from service_center.planning.rules.weeks import week_name
from service_center.planning.views.weeks import weeks_asked_for
from service_center.planning.wording import LETTERS, SKILLS
from service_center.workshop.orders.queries.open_orders import open_orders


def _monday(week: str) -> date:
    """The Monday of "2026-w53", in either case. Raises Http404."""
    try:
        return date.fromisoformat(f"{week.upper()}-1")
    except ValueError as fault:
        raise Http404 from fault


def _place(request: HttpRequest, week: str, skill: str) -> tuple[Picture, SkillWeeks, int, dict[str, Any]]:
    """The picture, the skill's weeks in it, the week's number, and what all these pages say. Raises Http404."""
    shown = latest_picture(weeks_asked_for(request.GET))
    picture, monday = shown.picture, _monday(week)
    one = picture.of(skill) if picture else None
    at = (monday - picture.first).days // 7 if picture else -1
    if picture is None or one is None or not 0 <= at < picture.weeks:
        raise Http404
    said = {
        "skill": skill,
        "skill_name": SKILLS[skill],
        "week": week_name(monday),
        "monday": monday,
        "sunday": monday + timedelta(days=6),
        "before": week_name(monday - timedelta(weeks=1)) if at else "",
        "after": week_name(monday + timedelta(weeks=1)) if at + 1 < picture.weeks else "",
        "weeks": shown.weeks,
        "reckoning": shown.reckoning,
    }
    return picture, one, at, said


@require_safe
def week(request: HttpRequest, week: str, skill: str) -> HttpResponse:
    """One bar: its parts, the orders of its promised hours, the letters and invitations behind the others. Seven statements."""
    picture, one, at, said = _place(request, week, skill)
    mine = [order for order in open_orders() if order.complexity.value == skill]
    order_of = {order.pk: order for order in mine}
    parts = orders_of_week(one.promised, [(order.pk, order.minutes_left / 60) for order in mine], at)
    piece_of = queries.pieces_of([part.key for part in parts])
    context = {
        **said,
        "capacity": one.capacity[at],
        "promised": one.promised[at],
        "out": one.letters_out[at],
        "to_come": one.to_come(one.before)[at],
        "total": one.before[at],
        "orders": [
            {
                "order": order_of[part.key],
                "piece": piece_of[part.key],
                "left": order_of[part.key].minutes_left / 60,
                "hours": part.hours,
            }
            for part in parts
        ],
        "without_orders": max(0.0, one.promised[at] - sum(part.hours for part in parts)),
        "letters": [
            {
                "name": LETTERS[ServiceKind.OVERHAUL.value, letter.step],
                "awaited": letter.awaited_in(at),
                "expected": letter.expected[at],
                "hours": letter.expected[at] * one.hours,
            }
            for letter in one.letters
            if letter.awaited_in(at)
        ],
        "invited": [
            {"week": week_name(picture.first + timedelta(weeks=row.week)), "part": row} for row in invited_for(one, at)
        ],
    }
    return render(request, "planning/behind.html", context)


@require_safe
def letters_out(request: HttpRequest, week: str, skill: str) -> HttpResponse:
    """The pieces whose letter is out and may bring them in this week, latest letters first, in pages. Five statements."""
    *_found, said = _place(request, week, skill)
    after = queries.Cursor.from_text(request.GET.get("after", ""))
    page = queries.letters_out_page(skill, said["monday"], timezone.localdate(), after)
    return render(request, "planning/behind_letters.html", {**said, "page": page})


@require_safe
def invited(request: HttpRequest, week: str, skill: str) -> HttpResponse:
    """The pieces that are to be invited in this week, as it is planned now, in pages. Five statements."""
    picture, _one, at, said = _place(request, week, skill)
    after = queries.Cursor.from_text(request.GET.get("after", ""))
    page = queries.invited_page(skill, picture, at, timezone.localdate(), after)
    return render(request, "planning/behind_invited.html", {**said, "page": page})
