"""What the desk or the bench lead sets: calibres' limits, machines' files, tightness practice; and ISO 3159's criteria."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.signed_in import staff_of
from service_center.bench.forms import JudgingForm, MachineFileForm, PracticeForm, SeriesForm
from service_center.bench.staff_said import criterion_rows
from service_center.book.models import Calibre
from service_center.measurements.actions import (
    NameTakenError,
    drop_machine_file,
    keep_machine_file,
    set_judging,
    set_practice,
)
from service_center.measurements.models import CalibreJudging, CalibreLimit, MachineFile
from service_center.measurements.queries import judging_of, practice
from service_center.measurements.rules.chronometer import Size, all_within, criteria_of
from service_center.measurements.rules.files import LARGEST_FILE, BadFileError
from service_center.measurements.rules.machine_file import readings_in


@require_http_methods(["GET", "HEAD", "POST"])
def bench_settings(request: HttpRequest) -> HttpResponse:
    """The way to each of them, and the tightness practice itself."""
    form = PracticeForm(request.POST if request.method == "POST" else None, initial=_initial())
    if request.method == "POST" and form.is_valid():
        set_practice(form.practice(), by=staff_of(request))
        messages.success(request, _("Kept. Runs that are under way keep the plan they began with."))
        return redirect("bench:settings")
    own = set(CalibreLimit.objects.values_list("calibre_id", flat=True))
    judged = dict(CalibreJudging.objects.values_list("calibre_id", "positions"))
    context = {
        "form": form,
        "calibres": [
            {"calibre": one, "own": one.pk in own, "positions": judged.get(one.pk, "")}
            for one in Calibre.objects.order_by("code")
        ],
        "machine_files": MachineFile.objects.order_by("name"),
    }
    return render(request, "bench/settings.html", context, status=422 if form.errors else 200)


def _initial() -> dict[str, Any]:
    kept = practice()
    return {name: getattr(kept, name) for name in kept.__dataclass_fields__}


@require_http_methods(["GET", "HEAD", "POST"])
def judging(request: HttpRequest, pk: int) -> HttpResponse:
    """A calibre's limits, positions and crown; every verdict follows at once."""
    calibre = get_object_or_404(Calibre, pk=pk)
    form = JudgingForm(request.POST if request.method == "POST" else None, judging=judging_of(calibre))
    if request.method == "POST" and form.is_valid():
        set_judging(calibre, form.judging(), by=staff_of(request))
        messages.success(request, _("Kept. Every sheet of this calibre is judged by it from now on."))
        return redirect("bench:settings")
    return render(request, "bench/judging.html", {"calibre": calibre, "form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def new_machine_file(request: HttpRequest) -> HttpResponse:
    """Set up how one kind of file is read."""
    return _machine_file(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def machine_file(request: HttpRequest, pk: int) -> HttpResponse:
    """Change how one kind of file is read, or take it away."""
    return _machine_file(request, get_object_or_404(MachineFile, pk=pk))


def _machine_file(request: HttpRequest, known: MachineFile | None) -> HttpResponse:
    if request.method != "POST":
        return _machine_page(request, known, MachineFileForm(known=known))
    if known and request.POST.get("deed") == "drop":
        drop_machine_file(known, by=staff_of(request))
        messages.success(request, _("The mapping is gone. Sheets that were read with it stay."))
        return redirect("bench:settings")
    form = MachineFileForm(request.POST, request.FILES, known=known)
    if not form.is_valid():
        return _machine_page(request, known, form, status=422)
    if request.POST.get("deed") == "try":
        return _machine_page(request, known, form, tried=_tried(form))
    try:
        keep_machine_file(
            known,
            form.cleaned_data["name"],
            form.mapping(),
            whole_beat_error=form.cleaned_data["whole_beat_error"],
            by=staff_of(request),
        )
    except NameTakenError:
        form.add_error("name", _("Another kind of file has that name."))
        return _machine_page(request, known, form, status=422)
    messages.success(request, _("Kept. The file can be chosen where readings are taken."))
    return redirect("bench:settings")


def _tried(form: MachineFileForm) -> dict[str, Any]:
    """What the sample gives by this mapping: readings, or every fault."""
    sent = form.cleaned_data["sample_file"]
    content = sent.read(LARGEST_FILE + 1) if sent else form.cleaned_data["sample"].encode()
    if not content:
        return {"faults": [_("There is no sample to try: paste the file's text, or choose the file.")]}
    try:
        return {"readings": readings_in(content, _("sample"), form.mapping())}
    except BadFileError as bad:
        return {"faults": [str(fault) for fault in bad.faults[:20]]}


def _machine_page(
    request: HttpRequest,
    known: MachineFile | None,
    form: MachineFileForm,
    *,
    tried: dict[str, Any] | None = None,
    status: int = 200,
) -> HttpResponse:
    return render(request, "bench/machine_file.html", {"known": known, "form": form, "tried": tried}, status=status)


@require_safe
def chronometer(request: HttpRequest) -> HttpResponse:
    """The criteria of ISO 3159 on as many daily rates as there are; nothing is kept."""
    asked = any(name.startswith("g") for name in request.GET)
    form = SeriesForm(request.GET if asked else None)
    context: dict[str, Any] = {"form": form}
    if asked and form.is_valid():
        criteria = criteria_of(form.rates(), Size(form.cleaned_data["size"]))
        context |= {"criteria": criterion_rows(criteria), "all_within": all_within(criteria), "answered": True}
    return render(request, "bench/chronometer.html", context, status=422 if form.errors else 200)
