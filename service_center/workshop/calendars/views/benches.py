"""Who is at a bench and when: all of them over the coming weeks, and each with week, skills and absences."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.signed_in import staff_of
from service_center.workshop.calendars import actions
from service_center.workshop.calendars.actions import NotKept
from service_center.workshop.calendars.forms import AbsenceForm, AddForm, PersonForm, SkillsForm, WeekForm
from service_center.workshop.calendars.models import Watchmaker
from service_center.workshop.calendars.pages import bench_page, weeks_page


@require_safe
def benches(request: HttpRequest) -> HttpResponse:
    """The coming weeks of every watchmaker, and those who have left. Twelve statements at most."""
    today = timezone.localdate()
    left = Watchmaker.objects.filter(last_day__lt=today).order_by("-last_day")
    return render(request, "workshop/calendars/benches.html", {"page": weeks_page(today), "left": left, "today": today})


@require_http_methods(["GET", "HEAD", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    """Give somebody a bench."""
    today = timezone.localdate()
    form = AddForm(request.POST) if request.method == "POST" else AddForm(initial={"first_day": today})
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            new = actions.add_watchmaker(
                name=said["name"], first_day=said["first_day"], last_day=said["last_day"], account=said["account"],
                minutes=form.minutes(), skills=form.skills(), by=staff_of(request),
            )  # fmt: skip
        except NotKept as fault:
            _mark(form, fault)
        else:
            messages.success(request, _("%(name)s has a bench.") % {"name": new.name})
            return redirect("calendars:watchmaker", pk=new.pk)
    return render(request, "workshop/calendars/add.html", {"form": form}, status=422 if form.errors else 200)


@require_safe
def mine(request: HttpRequest) -> HttpResponse:
    """A watchmaker's own weeks, to read."""
    one, today = Watchmaker.objects.filter(account=staff_of(request)).first(), timezone.localdate()
    return render(
        request, "workshop/calendars/mine.html", {"one": one, "page": bench_page(one, today) if one else None}
    )


@dataclass(slots=True)
class _Forms:
    """The four forms of a watchmaker's page; the one that was sent is bound."""

    person: PersonForm
    week: WeekForm
    skills: SkillsForm
    absence: AbsenceForm


@require_http_methods(["GET", "HEAD", "POST"])
def watchmaker(request: HttpRequest, pk: int) -> HttpResponse:
    """One watchmaker: their coming weeks, week, skills, absences, name and account."""
    one, today = get_object_or_404(Watchmaker.objects.select_related("account"), pk=pk), timezone.localdate()
    page = bench_page(one, today)
    given = request.POST if request.method == "POST" else None
    deed = given.get("deed", "") if given else ""
    since = {"since": max(today, one.first_day)}
    forms = _Forms(
        PersonForm(
            given if deed == "person" else None,
            initial={"name": one.name, "account": one.account, "last_day": one.last_day},
            auto_id="person-%s",
        ),
        WeekForm(given if deed == "week" else None, initial=since, minutes=page.week, auto_id="week-%s"),
        SkillsForm(given if deed == "skills" else None, initial=since, skills=page.asked, auto_id="skills-%s"),
        AbsenceForm(given if deed == "absence" else None, auto_id="absence-%s"),
    )
    if given is not None:
        if deed not in DEEDS:
            raise Http404
        if _done(DEEDS[deed], request, one, forms, today):
            return redirect("calendars:watchmaker", pk=one.pk)
    wrong = any(form.is_bound and form.errors for form in (forms.person, forms.week, forms.skills, forms.absence))
    context = {"one": one, "page": page, "forms": forms}
    return render(request, "workshop/calendars/watchmaker.html", context, status=422 if wrong else 200)


Deed = Callable[[HttpRequest, Watchmaker, _Forms, date], Form | None]


def _done(deed: Deed, request: HttpRequest, one: Watchmaker, forms: _Forms, today: date) -> bool:
    """Whether a deed was done; a refusal stands at its field of the form that was sent."""
    try:
        form = deed(request, one, forms, today)
    except NotKept as fault:
        sent = next(form for form in (forms.person, forms.week, forms.skills, forms.absence) if form.is_bound)
        _mark(sent, fault)
        return False
    return form is None


def _mark(form: Form, fault: NotKept) -> None:
    form.add_error(fault.field if fault.field in form.fields else None, fault.why)


def _keep_person(request: HttpRequest, one: Watchmaker, forms: _Forms, _today: date) -> Form | None:
    form = forms.person
    if not form.is_valid():
        return form
    said = form.cleaned_data
    actions.change_watchmaker(
        one, name=said["name"], last_day=said["last_day"], account=said["account"], by=staff_of(request)
    )
    messages.success(request, _("Kept."))
    return None


def _keep_week(request: HttpRequest, one: Watchmaker, forms: _Forms, today: date) -> Form | None:
    form = forms.week
    if not form.is_valid():
        return form
    actions.keep_week(one, form.minutes(), since=form.cleaned_data["since"], as_of=today, by=staff_of(request))
    messages.success(request, _("The week is kept."))
    return None


def _keep_skills(request: HttpRequest, one: Watchmaker, forms: _Forms, today: date) -> Form | None:
    form = forms.skills
    if not form.is_valid():
        return form
    actions.keep_skills(one, form.skills(), since=form.cleaned_data["since"], as_of=today, by=staff_of(request))
    messages.success(request, _("The skills are kept."))
    return None


def _add_absence(request: HttpRequest, one: Watchmaker, forms: _Forms, _today: date) -> Form | None:
    form = forms.absence
    if not form.is_valid():
        return form
    first, last, kind = form.absence()
    actions.add_absence(one, first, last, kind, by=staff_of(request))
    messages.success(request, _("The absence is kept."))
    return None


def _take_back(request: HttpRequest, one: Watchmaker, _forms: _Forms, _today: date) -> Form | None:
    absence = request.POST.get("absence", "")
    if not (absence.isascii() and absence.isdigit() and len(absence) < 16):
        raise Http404
    actions.take_back_absence(one, int(absence), by=staff_of(request))
    messages.success(request, _("The absence is taken back."))
    return None


DEEDS: dict[str, Deed] = {
    "person": _keep_person,
    "week": _keep_week,
    "skills": _keep_skills,
    "absence": _add_absence,
    "back": _take_back,
}
