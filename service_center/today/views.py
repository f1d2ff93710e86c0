"""What matters today to whoever is signed in."""

from collections.abc import Mapping

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from service_center.access.rules import COUNTER, DESK, Role
from service_center.access.signed_in import staff_of
from service_center.intake.drafts.queries import open_drafts
from service_center.intake.queries import booked_today
from service_center.keeping.queries import last_backup
from service_center.letters.desk.views.letters import counted
from service_center.letters.desk.words import HELD_BECAUSE
from service_center.letters.queries.bounces import alarm
from service_center.letters.queries.held_letters import held_since_restore
from service_center.letters.queries.held_rounds import held_rounds
from service_center.letters.rules.words import Unusual
from service_center.pieces import wording
from service_center.planning.rules.weeks import monday_of
from service_center.today import queries
from service_center.workshop.parts.ordered.queries import overdue_deliveries

LISTED = 12
COMING = 8  # visits and started drop-offs that stand here; the counter's own page has the rest


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Search; who comes and what is under way at the counter; what is due, and what the desk must do; what is here."""
    staff, now, today = staff_of(request), timezone.now(), timezone.localdate()
    own = staff.boutique if staff.role == Role.BOUTIQUE else None
    here = list(queries.in_the_house(staff)[: LISTED + 1])
    booked = booked_today(staff, now) if staff.role in COUNTER else []
    started = open_drafts(staff) if staff.role in COUNTER else []
    since_restore = held_since_restore() if staff.role in DESK else 0
    context = {
        "today": today,
        "here": here[:LISTED],
        "more_here": len(here) > LISTED,
        "taken_in": queries.taken_in_since(monday_of(today), staff),
        "booked": booked[:COMING],
        "more_booked": len(booked) > COMING,
        "drafts": started[:COMING],
        "more_drafts": len(started) > COMING,
        "due": _counted(queries.due_counts(today, boutique=own), wording.STATES) if staff.role in COUNTER else [],
        "letters": _counted(queries.letter_counts(), wording.LETTER_STATES) if staff.role in DESK else [],
        "orders": queries.orders_today(staff, today) if staff.role in DESK else None,
        "requests": queries.waiting_requests() if staff.role in DESK else None,
        "late_parts": overdue_deliveries(today) if staff.role in DESK else 0,
        "alarm": alarm(now) if staff.role in DESK else None,
        # An invented house needs none.
        "backup": last_backup(now) if staff.role == Role.MANAGER and not settings.DEMO else None,
        "held_rounds": _held_rounds() if staff.role in DESK else [],
        "since_restore": since_restore,
        "since_restore_shown": counted(since_restore),
        "at_counter": staff.role in COUNTER,
    }
    return render(request, "today/home.html", context)


def _held_rounds() -> list[dict[str, object]]:
    """Rounds that wait for the desk's word, and why. One statement."""
    return [{"round": one, "because": HELD_BECAUSE[Unusual(one.unusual)]} for one in held_rounds()]


def _counted(counts: Mapping[str, queries.Count], names: wording.Words) -> list[dict[str, object]]:
    return [{"state": state, "name": names[state], "count": count} for state, count in counts.items()]
