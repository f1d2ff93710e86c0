"""The steps of a drop-off: each is kept as it is typed, whoever closes the tab, and the last one takes the piece in."""

from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.signed_in import staff_of
from service_center.book.rules import Place, Status
from service_center.intake.actions import NotTakenInError, Signed
from service_center.intake.drafts import actions, finishing, queries
from service_center.intake.drafts.actions import AtItError, StartedThereError
from service_center.intake.drafts.models import Draft
from service_center.intake.drafts.pages import step_page
from service_center.intake.drafts.queries import DraftOver, Said
from service_center.intake.drafts.started import FILLED, Started, Step, after
from service_center.intake.drafts.wording import REFUSALS
from service_center.intake.mailing import mail_receipt_of
from service_center.intake.models import DropOff
from service_center.intake.pages import stopped
from service_center.intake.photographs.actions import add_photograph, remove_photograph
from service_center.intake.photographs.decoding import MEGABYTE, MOST_BYTES, NotKept, Refusal
from service_center.intake.photographs.queries import MOST_PHOTOGRAPHS
from service_center.intake.photographs.uploads import PhotographHandler
from service_center.intake.rules import stop_for
from service_center.intake.signing.statement import text_of
from service_center.measurements.actions import RunUnderWayError
from service_center.measurements.grid_filling import CannotFillError, filled_from_file
from service_center.measurements.rules.files import LARGEST_FILE


def _quiet(request: HttpRequest) -> bool:
    """Whether the page keeps a step by itself while it is typed: it wants no page in return."""
    return "X-Keep" in request.headers or "keep" in request.GET


def _draft(request: HttpRequest, pk: int) -> Draft:
    return get_object_or_404(queries.drafts_visible_to(staff_of(request)), pk=pk)


@require_safe
def started(request: HttpRequest, pk: int) -> HttpResponse:
    """On with a drop-off where it was left: at the first step that nobody kept."""
    draft = _draft(request, pk)
    kept = queries.said_of(draft)
    return _to(draft, next((step for step in FILLED if step not in kept), Step.SIGN))


@csrf_exempt  # only until the handler for photographs is in place: the check reads the form, and with it the files
@require_http_methods(["GET", "HEAD", "POST"])
def step(request: HttpRequest, pk: int, name: str) -> HttpResponse:
    """One step: shown as it was left, or kept."""
    handler = PhotographHandler(request)
    if request.method == "POST":
        request.upload_handlers = [handler]
    return _step(request, pk, name, handler)


@csrf_protect
def _step(request: HttpRequest, pk: int, name: str, handler: PhotographHandler) -> HttpResponse:
    if name not in list(Step):
        raise Http404
    draft, at = _draft(request, pk), Step(name)
    stop = stop_for(Status(draft.piece.status or Status.IN_USE), Place(draft.piece.place))
    if draft.ended_at is None and stop:
        return stopped(request, draft.piece, stop, status=409 if request.method == "POST" else 200)
    try:
        if draft.ended_at is not None:
            raise DraftOver  # noqa: TRY301  # as when it ends while this is on its way
        begun = Started(draft, staff_of(request), now=timezone.now())
        return _kept(request, begun, at, handler) if request.method == "POST" else _shown(request, begun, at)
    except DraftOver:
        return _over(request, draft)


def _shown(request: HttpRequest, begun: Started, at: Step) -> HttpResponse:
    """The step as it was left; to anybody else, who is at it."""
    if begun.draft.at_it_id != begun.staff.pk:
        return render(request, "intake/at_it.html", {"draft": begun.draft})
    return step_page(request, begun, at, begun.form(at))


def _kept(request: HttpRequest, begun: Started, at: Step, handler: PhotographHandler) -> HttpResponse:
    try:
        return _sign(request, begun) if at is Step.SIGN else _keep(request, begun, at, handler)
    except AtItError as other:
        if _quiet(request):
            return HttpResponse(status=409)
        return step_page(request, begun, at, begun.form(at, request.POST), status=409, at_it=other)


def _keep(request: HttpRequest, begun: Started, at: Step, handler: PhotographHandler) -> HttpResponse:
    """Keep the step as it was typed, then judge it, and go where the button says."""
    draft, staff, sent = begun.draft, begun.staff, request.POST
    typed = begun.typed(at, sent)
    fills = at is Step.READINGS and "fill" in sent
    if fills:
        typed |= _from_file(request)
    actions.keep_step(draft, at, typed, by=staff, at=begun.now, taking_over="take_over" in sent)
    if _quiet(request):
        return HttpResponse(status=204)
    if fills or (at is Step.CONDITION and _changed_photographs(request, begun, handler)):
        return redirect(_address(draft, at) + ("#readings" if fills else "#photographs"))
    if sent.get("go") in list(Step):
        return _to(draft, Step(sent["go"]))
    form = begun.form(at, sent)
    if not form.is_valid():
        return step_page(request, begun, at, form, status=422)
    if at is Step.STORY and "boutique" in form.cleaned_data:
        try:
            actions.move_to(draft, form.cleaned_data["boutique"], by=staff)
        except StartedThereError:
            form.add_error("boutique", _("This piece was started at that boutique too. Go on there, or give one up."))
            return step_page(request, begun, at, form, status=422)
    return _to(draft, after(at))


def _from_file(request: HttpRequest) -> Said:
    """What a timing machine's file puts into the grid; none where it cannot be read, and the reasons are said."""
    file = request.FILES.get("file")
    content = file.read(LARGEST_FILE + 1) if isinstance(file, UploadedFile) else None
    try:
        cells = filled_from_file(request.POST, (file.name if isinstance(file, UploadedFile) else "") or "file", content)
    except CannotFillError as error:
        messages.error(request, _("The grid could not be filled. Nothing you typed is lost."))
        for reason in error.reasons:
            messages.error(request, reason)
        return {}
    messages.success(request, _("The grid is filled. Look it over, then go on."))
    return {name: [cell] for name, cell in cells.items()}


def _changed_photographs(request: HttpRequest, begun: Started, handler: PhotographHandler) -> bool:
    """Add and remove what the form says; what is refused is said by name. Whether there was anything to do."""
    files = [file for file in request.FILES.getlist("photographs") if isinstance(file, UploadedFile)]
    files += [file for file in request.FILES.getlist("camera") if isinstance(file, UploadedFile)]
    for file in files:
        try:
            add_photograph(begun.draft, file, size=file.size or 0, by=begun.staff, at=timezone.now())
        except NotKept as refused:
            _refuse(request, file.name or "", refused.because)
    for name in handler.too_large:
        _refuse(request, name, Refusal.TOO_LARGE)
    for name in handler.not_written:
        _refuse(request, name, Refusal.NOT_WRITTEN)
    removed = request.POST.get("remove", "")
    if removed:
        remove_photograph(begun.draft, removed, by=begun.staff)
    return bool(files or handler.too_large or handler.not_written or removed or "add" in request.POST)


def _refuse(request: HttpRequest, name: str, because: Refusal) -> None:
    reason = REFUSALS[because] % {"megabytes": MOST_BYTES // MEGABYTE, "most": MOST_PHOTOGRAPHS}
    messages.error(request, _("%(name)s was not kept: %(reason)s") % {"name": name[:80], "reason": reason})


def _sign(request: HttpRequest, begun: Started) -> HttpResponse:
    """The last step: the text that was shown, signed, and the piece is taken in."""
    sent = request.POST
    if "take_over" in sent:
        actions.take_over(begun.draft, by=begun.staff, at=begun.now)
    if "take_over" in sent or sent.get("go") in list(Step):
        return _to(begun.draft, Step(sent.get("go", Step.SIGN)))
    form = begun.form(Step.SIGN, sent)
    if not begun.faults and sent.get("seen") != begun.seen:
        return _show_again(request, begun)
    if begun.faults or not form.is_valid():
        return step_page(request, begun, Step.SIGN, form, status=422)
    return _taken_in(request, begun, form.cleaned_data)


def _taken_in(request: HttpRequest, begun: Started, data: dict[str, Any]) -> HttpResponse:
    signed = Signed(text_of(begun.sections), begun.language, data["signer"], data["strokes"])
    try:
        taken = finishing.finish(begun, signed, as_of=timezone.localdate())
    except NotTakenInError as refused:
        return stopped(request, begun.piece, refused.stop, status=409)
    except (finishing.ChangedMeanwhileError, RunUnderWayError):
        return _show_again(request, Started(begun.draft, begun.staff, now=begun.now))
    if data.get("mail"):
        mail_receipt_of(taken, by=begun.staff, now=begun.now)
    return redirect("intake:taken_in", pk=taken.pk)


def _show_again(request: HttpRequest, begun: Started) -> HttpResponse:
    """No signature lands under a text that its owner did not see."""
    messages.error(
        request, _("The text has changed since it was shown. Please show it again, and let the owner sign anew.")
    )
    return step_page(request, begun, Step.SIGN, begun.form(Step.SIGN), status=409)


@require_POST
def take_over(request: HttpRequest, pk: int) -> HttpResponse:
    """Whoever was at it is not any more."""
    draft = _draft(request, pk)
    try:
        actions.take_over(draft, by=staff_of(request), at=timezone.now())
    except DraftOver:
        return _over(request, draft)
    return redirect("intake:started", pk=draft.pk)


@require_http_methods(["GET", "HEAD", "POST"])
def give_up(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask once, then end a drop-off unfinished."""
    draft = _draft(request, pk)
    if request.method != "POST":
        return render(request, "intake/give_up.html", {"draft": draft, "photographs": draft.photographs.count()})
    try:
        actions.give_up(draft, by=staff_of(request), at=timezone.now())
    except DraftOver:
        return _over(request, draft)
    messages.info(request, _("The drop-off was given up. What was typed and photographed is gone."))
    return redirect("intake:find")


def _over(request: HttpRequest, draft: Draft) -> HttpResponse:
    """A drop-off that is finished shows what was taken in; one that was given up says so."""
    if _quiet(request):
        return HttpResponse(status=410)
    taken = DropOff.objects.filter(form_key=draft.key).first()
    if taken:
        return redirect("intake:taken_in", pk=taken.pk)
    messages.info(request, _("This drop-off was given up, or the piece came in another way."))
    return redirect("intake:find")


def _address(draft: Draft, at: Step) -> str:
    return reverse("intake:step", args=[draft.pk, at.value])


def _to(draft: Draft, at: Step) -> HttpResponse:
    return redirect(_address(draft, at))
