"""When the whole workshop stands still: its closures, the public holidays of a year, and where it stands."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from service_center.access.models import Staff
from service_center.access.signed_in import staff_of
from service_center.workshop.calendars import actions, queries
from service_center.workshop.calendars.actions import NotKept
from service_center.workshop.calendars.forms import ClosureForm, HolidayForm, PlaceForm
from service_center.workshop.calendars.models import HolidayYear, WorkshopClosure, WorkshopPlace

YEARS = 5


@dataclass(slots=True)
class _Forms:
    closure: ClosureForm
    holiday: HolidayForm
    place: PlaceForm

    def sent(self) -> Form:
        """The one that is bound; the place's where none is."""
        return next((form for form in (self.closure, self.holiday) if form.is_bound), self.place)


@require_http_methods(["GET", "HEAD", "POST"])
def standing_still(request: HttpRequest) -> HttpResponse:
    """Closures to come, a year's public holidays, and the workshop's place."""
    today = timezone.localdate()
    place = WorkshopPlace.objects.first()
    given = request.POST if request.method == "POST" else None
    year = _year(request.GET.get("year", ""), today)
    deed = given.get("deed", "") if given else ""
    known = {"country": place.country, "subdivision": place.subdivision, "time_zone": place.time_zone} if place else {}
    forms = _Forms(
        ClosureForm(given if deed == "close" else None),
        HolidayForm(given if deed == "holiday" else None),
        PlaceForm(given if deed == "place" else None, initial=known),
    )
    if given is not None:
        if deed not in DEEDS:
            raise Http404
        if _done(DEEDS[deed], request, forms, year):
            return redirect(f"{reverse('calendars:standing_still')}?year={year}")
    wrong = any(form.is_bound and form.errors for form in (forms.closure, forms.holiday, forms.place))
    return render(
        request,
        "workshop/calendars/standing_still.html",
        {
            "forms": forms,
            "today": today,
            "year": year,
            "years": list(range(today.year - 1, today.year + YEARS + 1)),
            "place": place if place and place.country else None,
            "closures": WorkshopClosure.objects.filter(last_day__gte=min(today, date(year, 1, 1))).order_by(
                "first_day"
            ),
            "holidays": queries.public_holidays(date(year, 1, 1), date(year, 12, 31)),
            "copied": HolidayYear.objects.filter(year=year).exists(),
        },
        status=422 if wrong else 200,
    )


def _year(text: str, today: date) -> int:
    known = text.isascii() and text.isdigit() and len(text) == 4 and abs(int(text) - today.year) <= 20
    return int(text) if known else today.year


Deed = Callable[[HttpRequest, _Forms, int, Staff], bool]


def _done(deed: Deed, request: HttpRequest, forms: _Forms, year: int) -> bool:
    try:
        return deed(request, forms, year, staff_of(request))
    except NotKept as fault:
        form = forms.sent()
        if form.is_bound:
            form.add_error(fault.field if fault.field in form.fields else None, fault.why)
            return False
        messages.error(request, fault.why)
        return True


def _close(request: HttpRequest, forms: _Forms, _year: int, by: Staff) -> bool:
    form = forms.closure
    if not form.is_valid():
        return False
    said: dict[str, Any] = form.cleaned_data
    actions.close_workshop(said["first_day"], said["last_day"], reason=said["reason"], by=by)
    messages.success(request, _("The workshop is closed on these days."))
    return True


def _open(request: HttpRequest, _forms: _Forms, _year: int, by: Staff) -> bool:
    closure = request.POST.get("closure", "")
    if not (closure.isascii() and closure.isdigit() and len(closure) < 16):
        raise Http404
    actions.open_workshop(int(closure), by=by)
    messages.success(request, _("The workshop is open on these days again."))
    return True


def _add_holiday(request: HttpRequest, forms: _Forms, _year: int, by: Staff) -> bool:
    form = forms.holiday
    if not form.is_valid():
        return False
    actions.add_holiday(form.cleaned_data["day"], form.cleaned_data["name"], by=by)
    messages.success(request, _("The holiday is kept."))
    return True


def _work(request: HttpRequest, _forms: _Forms, _year: int, by: Staff) -> bool:
    try:
        day = date.fromisoformat(request.POST.get("day", ""))
    except ValueError as fault:
        raise Http404 from fault
    works = request.POST.get("works") == "yes"
    actions.work_on_holiday(day, works=works, by=by)
    messages.success(request, _("The benches work on that day.") if works else _("That day is free again."))
    return True


def _copy(request: HttpRequest, _forms: _Forms, year: int, by: Staff) -> bool:
    actions.copy_year(year, by=by)
    messages.success(request, _("The holidays of this year are kept."))
    return True


def _keep_place(request: HttpRequest, forms: _Forms, _year: int, by: Staff) -> bool:
    form = forms.place
    if not form.is_valid():
        return False
    said = form.cleaned_data
    actions.keep_place(
        country=said["country"], subdivision=said["subdivision"], time_zone=said["time_zone"],
        as_of=timezone.localdate(), by=by,
    )  # fmt: skip
    messages.success(request, _("The workshop's place is kept."))
    return True


DEEDS: dict[str, Deed] = {
    "close": _close,
    "open": _open,
    "holiday": _add_holiday,
    "work": _work,
    "copy": _copy,
    "place": _keep_place,
}
