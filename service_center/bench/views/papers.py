"""The service report as PDF."""

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from service_center.bench import queries, report
from service_center.bench.views.piece import piece_of
from service_center.papers.rules import PageSize


@require_safe
def service_report(request: HttpRequest, pk: int, drop_off: int) -> HttpResponse:
    """What was found and what was done, intake beside hand-back; `?size=letter` or `A4` for another printer."""
    piece = piece_of(request, pk)
    stays = queries.stays_of(piece, queries.judged_sheets(piece))
    stay = next((one for one in stays if one.drop_off.pk == drop_off), None)
    if stay is None or stay.after is None:
        raise Http404
    asked = request.GET.get("size", "")
    size = PageSize(asked) if asked in report.SIZES else report.size_for(stay)
    content = report.service_report(piece, stay, size=size)
    headers = {"Content-Disposition": f'inline; filename="{stay.drop_off.number}-report.pdf"'}
    return HttpResponse(content, content_type="application/pdf", headers=headers)
