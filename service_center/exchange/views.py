"""The book's files: looked at before they are written, and taken away as one archive."""

import tempfile
from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_POST

from service_center.access.signed_in import staff_of
from service_center.exchange import actions, queries, staging
from service_center.exchange.rules import NAMES
from service_center.exchange.staging import Staged
from service_center.exchange.uploads import FILE_LIMIT, MEGABYTE, TOTAL_LIMIT, BookFilesHandler

STAGED = "exchange_staged"


@csrf_exempt  # only until the handler for large files is in place: the check reads the form, and with it the files
@require_http_methods(["GET", "HEAD", "POST"])
def import_book(request: HttpRequest) -> HttpResponse:
    """Files in: chosen, looked at, written."""
    handler = BookFilesHandler(request)
    if request.method == "POST":
        request.upload_handlers = [handler]
    return _import_book(request, handler)


@csrf_protect
def _import_book(request: HttpRequest, handler: BookFilesHandler) -> HttpResponse:
    if request.method != "POST":
        return _page(request)
    match request.POST.get("deed"):
        case "write":
            return _write(request)
        case "discard":
            return _discard(request)
        case _:
            return _look_at(request, handler)


def _look_at(request: HttpRequest, handler: BookFilesHandler) -> HttpResponse:
    """Keep what was uploaded and work out what it would do. One bad file and none is kept."""
    files = [file for file in request.FILES.getlist("files") if isinstance(file, UploadedFile)]
    if handler.refused or not files:
        refused = handler.refused or [_("Choose at least one file.")]
        return _page(request, refused=refused, status=400)
    before = staging.from_session(request.session.get(STAGED))
    if before:
        before.discard()
    staged = staging.stage(files)
    _keep_preview(staged)
    request.session[STAGED] = staged.as_session()
    return redirect("exchange:import_book")


def _keep_preview(staged: Staged) -> None:
    result = actions.import_book(staged.folder, dry_run=True, by=None, as_of=timezone.localdate())
    staged.keep_preview(staging.as_preview(result))


def _write(request: HttpRequest) -> HttpResponse:
    """Write the very files that were looked at."""
    staged = staging.from_session(request.session.pop(STAGED, None))
    claimed = staged.claim() if staged and staged.is_whole() else None
    if claimed is None:
        messages.warning(
            request, _("These files are no longer here: they were written, discarded or over an hour old.")
        )
        return redirect("exchange:import_book")
    result = actions.import_book(claimed.folder, dry_run=False, by=staff_of(request), as_of=timezone.localdate())
    if result.faults.count:
        _keep_preview(claimed)
        request.session[STAGED] = claimed.as_session()
        messages.error(request, _("The book has changed since you looked: nothing was written. Look again."))
        return redirect("exchange:import_book")
    claimed.discard()
    if result.written:
        messages.success(request, _("The files are written into the book."))
    else:
        messages.info(request, _("The book says all of that already: nothing was written."))
    return redirect("exchange:import_book")


def _discard(request: HttpRequest) -> HttpResponse:
    staged = staging.from_session(request.session.pop(STAGED, None))
    if staged:
        staged.discard()
    messages.info(request, _("The files are discarded; nothing was written."))
    return redirect("exchange:import_book")


def _page(request: HttpRequest, *, refused: list[str] | None = None, status: int = 200) -> HttpResponse:
    staged = staging.from_session(request.session.get(STAGED))
    context: dict[str, Any] = {
        "preview": staged.preview() if staged else None,
        "file_names": [name for name in NAMES if name in staged.sums] if staged else [],
        "refused": refused,
        "names": NAMES,
        "file_limit": FILE_LIMIT // MEGABYTE,
        "total_limit": TOTAL_LIMIT // MEGABYTE,
        "last_written": queries.last_import(),
    }
    return render(request, "exchange/import_book.html", context, status=status)


@require_POST
def export_book(request: HttpRequest) -> FileResponse:
    """The whole book as one archive of its files. A deed, not a look: it is written into the trail."""
    archive = tempfile.TemporaryFile()  # noqa: SIM115  # the response closes it
    actions.export_archive(archive, by=staff_of(request))
    archive.seek(0)
    name = f"book-{timezone.localdate().isoformat()}.zip"
    return FileResponse(archive, as_attachment=True, filename=name, content_type="application/zip")
