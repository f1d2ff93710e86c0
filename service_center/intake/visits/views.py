"""The boutique's side of visits: who comes on a day, and when the boutique receives."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.book.models import Boutique
from service_center.book.wording import language_of, name_of_language
from service_center.intake.queries import day_at
from service_center.intake.visits import actions, queries
from service_center.intake.visits.actions import ChangedMeanwhile, NoLongerOpen
from service_center.intake.visits.forms import ClosureForm, RegionForm, WeekForm
from service_center.intake.visits.models import Visit
from service_center.intake.visits.rules import VisitState
from service_center.intake.visits.wording import short_day
from service_center.workshop.calendars.queries import stands_at

DAYS_AHEAD = 14
HOLIDAYS_AHEAD = timedelta(days=365)
# An owner who cancels by telephone is asked again after four weeks, as the owner's own page proposes.
ASK_AGAIN = timedelta(days=28)
STATES = {
    VisitState.BOOKED: (_("Comes"), "waiting"),
    VisitState.CAME: (_("Came"), "done"),
    VisitState.DID_NOT_COME: (_("Did not come"), "ended"),
    VisitState.CANCELLED: (_("Cancelled"), "ended"),
}


def _boutique(request: HttpRequest, code: str) -> tuple[list[Boutique], Boutique | None]:
    """The boutiques that this member of staff may look at, and the one that is asked for; else the first."""
    boutiques = list(queries.boutiques_of(staff_of(request)))
    asked = [one for one in boutiques if one.code == code]
    if code and not asked:
        raise Http404
    return boutiques, next(iter(asked or boutiques), None)


@require_safe
def visits(request: HttpRequest) -> HttpResponse:
    """Who comes to a boutique on a day, and on which of the next days somebody comes."""
    staff = staff_of(request)
    boutiques, boutique = _boutique(request, request.GET.get("boutique", ""))
    if boutique is None:
        return render(request, "intake/visits.html", {"boutique": None})
    today = day_at(boutique, timezone.now())
    day = _day(request.GET.get("day", "")) or today
    rows = queries.visits_on(staff, boutique, day)
    pieces = {coming.piece_id for visit in rows for coming in visit.coming.all()}
    taken_in = queries.taken_in_on(boutique, day, pieces)
    return render(
        request,
        "intake/visits.html",
        {
            "boutique": boutique,
            "boutiques": boutiques,
            "day": day,
            "today": today,
            "rows": [_row(visit, today, taken_in) for visit in rows],
            "before": _href(boutique, day - timedelta(days=1)),
            "after": _href(boutique, day + timedelta(days=1)),
            "coming_days": [
                {"day": short_day(one), "count": count, "href": _href(boutique, one), "here": one == day}
                for one, count in queries.days_around(
                    staff, boutique, today, today + timedelta(days=DAYS_AHEAD)
                ).items()
            ],
            "when_closed": queries.visits_when_closed(boutique, today),
            "may_set_hours": may_open("intake:opening_hours", staff.role),
        },
    )


def _row(visit: Visit, today: date, taken_in: dict[int, Any]) -> dict[str, Any]:
    word, mark = STATES[VisitState(visit.state)]
    return {
        "visit": visit,
        "language": name_of_language(language_of(visit.owner)),
        "state": word,
        "mark": mark,
        "can_mark": visit.day <= today,
        "can_cancel": visit.state == VisitState.BOOKED and visit.starts_at > timezone.now(),
        "pieces": [{"piece": coming.piece, "drop_off": taken_in.get(coming.piece_id)} for coming in visit.coming.all()],
    }


@require_POST
def mark_visit(request: HttpRequest, pk: int) -> HttpResponse:
    """Came, did not come, or cancelled by telephone."""
    staff = staff_of(request)
    visit = get_object_or_404(queries.visits_visible_to(staff), pk=pk)
    now, what = timezone.now(), request.POST.get("what", "")
    today = day_at(visit.boutique, now)
    try:
        if what == VisitState.CANCELLED:
            actions.cancel(visit, ask_again=today + ASK_AGAIN, form_key=None, on=today, now=now, by=staff)
        elif what in {VisitState.CAME, VisitState.DID_NOT_COME}:
            actions.mark(visit, came=what == VisitState.CAME, by=staff, today=today, now=now)
        else:
            raise Http404
    except NoLongerOpen:
        messages.error(request, _("This cannot be said of the visit any more, or not yet. Please look again."))
    return redirect(reverse("intake:visits") + _href(visit.boutique, visit.day))


@require_http_methods(["GET", "HEAD", "POST"])
def opening_hours(request: HttpRequest) -> HttpResponse:
    """A boutique's week, the days on which it is closed, and the public holidays on which it opens."""
    given = request.POST if request.method == "POST" else request.GET
    boutiques, boutique = _boutique(request, given.get("boutique", ""))
    if boutique is None:
        return render(request, "intake/opening_hours.html", {"boutique": None})
    today = day_at(boutique, timezone.now())
    opening = queries.opening_of(boutique, today, today + HOLIDAYS_AHEAD)
    sent = given if request.method == "POST" else None
    written = _written(sent, boutique, opening)
    if sent is not None:
        deed = DEEDS.get(sent.get("deed", ""))
        if deed is None:
            raise Http404
        if deed(request, boutique, written):
            return redirect(reverse("intake:opening_hours") + "?" + urlencode({"boutique": boutique.code}))
    forms = (written.week, written.closure, written.region)
    wrong = any(form.is_bound and form.errors for form in forms)
    return render(
        request,
        "intake/opening_hours.html",
        {
            "boutique": boutique,
            "boutiques": boutiques,
            "week": written.week,
            "closure": written.closure,
            "region": written.region,
            "closures": queries.closures_of(boutique, today),
            "public_holidays": [
                {"day": day, "name": name, "open": day in opening.opened}
                for day, name in opening.public_holidays.items()
                if any(hours.weekday == day.weekday() for hours in opening.hours)
            ],
            "keeps_own_list": stands_at(boutique.country, opening.region),
            "when_closed": queries.visits_when_closed(boutique, today),
            "minutes": settings.VISIT_MINUTES,
        },
        status=422 if wrong else 200,
    )


@dataclass(frozen=True, slots=True)
class Written:
    """What the page's forms hold: the one that was sent, and the others as they are kept."""

    week: WeekForm
    closure: ClosureForm
    region: RegionForm


def _written(sent: QueryDict | None, boutique: Boutique, opening: queries.Opening) -> Written:
    def of(deed: str) -> QueryDict | None:
        return sent if sent is not None and sent.get("deed") == deed else None

    return Written(
        WeekForm(of("week"), week=opening.hours),
        ClosureForm(of("close")),
        RegionForm(of("region"), country=boutique.country, region=opening.region),
    )


def _keep_week(request: HttpRequest, boutique: Boutique, written: Written) -> bool:
    week = written.week
    if not week.is_valid():
        return False
    try:
        actions.keep_hours(boutique, week.cleaned_data["week"], seen=week.cleaned_data["seen"], by=staff_of(request))
    except ChangedMeanwhile:
        week.add_error(None, _("Somebody else changed these hours meanwhile. Please open the page anew and compare."))
        return False
    messages.success(request, _("The opening hours are kept."))
    return True


def _close(request: HttpRequest, boutique: Boutique, written: Written) -> bool:
    closure = written.closure
    if not closure.is_valid():
        return False
    said = closure.cleaned_data
    actions.close_days(boutique, said["first_day"], said["last_day"], reason=said["reason"], by=staff_of(request))
    booked = len(queries.visits_when_closed(boutique, day_at(boutique, timezone.now())))
    messages.success(request, _("The boutique is closed on these days."))
    if booked:
        messages.warning(
            request,
            ngettext(
                "%(count)s visit is booked for a time when the boutique is closed. Please telephone its owner.",
                "%(count)s visits are booked for times when the boutique is closed. Please telephone their owners.",
                booked,
            )
            % {"count": booked},
        )
    return True


def _reopen(request: HttpRequest, boutique: Boutique, _written: Written) -> bool:
    closure = request.POST.get("closure", "")
    if not (closure.isascii() and closure.isdigit() and len(closure) < 16):
        raise Http404
    actions.reopen(boutique, int(closure), by=staff_of(request))
    return True


def _holiday(request: HttpRequest, boutique: Boutique, _written: Written) -> bool:
    day = _day(request.POST.get("day", ""))
    if day is None:
        raise Http404
    actions.open_on_holiday(boutique, day, opens=request.POST.get("opens") == "yes", by=staff_of(request))
    return True


def _keep_region(request: HttpRequest, boutique: Boutique, written: Written) -> bool:
    if not written.region.is_valid():
        return False
    try:
        actions.set_region(boutique, written.region.cleaned_data["region"], by=staff_of(request))
    except actions.UnknownRegionError:
        written.region.add_error("region", _("The boutique's country has no such region."))
        return False
    messages.success(request, _("The region is kept. Places are offered by its public holidays from now on."))
    return True


DEEDS: dict[str, Callable[[HttpRequest, Boutique, Written], bool]] = {
    "week": _keep_week,
    "close": _close,
    "reopen": _reopen,
    "holiday": _holiday,
    "region": _keep_region,
}


def _href(boutique: Boutique, day: date) -> str:
    return "?" + urlencode({"boutique": boutique.code, "day": day.isoformat()})


def _day(text: str) -> date | None:
    """The day that was typed; None for what is none, or lies beyond any boutique's book."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if date(1900, 1, 1) <= day <= date(2199, 12, 31) else None
