"""Showing a photograph to those who may see it, and to nobody else."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from service_center.access.signed_in import staff_of
from service_center.intake.photographs import queries
from service_center.intake.photographs.models import Photograph
from service_center.intake.photographs.queries import Size


@require_safe
def photograph(request: HttpRequest, key: str) -> HttpResponse:
    """One photograph; `?size=small` for the small one."""
    found = get_object_or_404(queries.photographs_visible_to(staff_of(request)), key=key)
    return shown(found, Size.SMALL if request.GET.get("size") == Size.SMALL else Size.FULL)


def shown(one: Photograph, size: Size) -> HttpResponse:
    """The picture as an answer that a browser shows and never runs. Whether it may be seen is the caller's to know."""
    try:
        content = queries.content_of(one, size)
    except FileNotFoundError as lost:
        raise Http404 from lost
    return as_picture(content, f"photograph-{one.pk}.jpg", "image/jpeg")


def as_picture(content: bytes, name: str, kind: str) -> HttpResponse:
    """A private picture as an answer: no browser takes it for anything else, or runs anything in it."""
    headers = {
        "Content-Disposition": f'inline; filename="{name}"',
        "X-Content-Type-Options": "nosniff",
        "Content-Security-Policy": "default-src 'none'; sandbox",
    }
    return HttpResponse(content, content_type=kind, headers=headers)
