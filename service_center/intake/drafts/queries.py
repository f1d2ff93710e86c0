"""Reading drop-offs that were started."""

from django.db.models import QuerySet

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.rules import Place
from service_center.intake.drafts.models import Draft, DraftStep

SHOWN = 20
Said = dict[str, list[str]]


class DraftOver(Exception):  # noqa: N818  # a refusal, named as the counter would say it
    """The drop-off was finished or given up: nothing is written to it any more."""


def drafts_visible_to(staff: Staff) -> QuerySet[Draft]:
    """All started drop-offs for the desk and the manager; for a boutique its own."""
    rows = Draft.objects.select_related("piece__model__calibre", "piece__owner", "piece__boutique", "boutique", "at_it")
    return rows.filter(boutique__code=staff.boutique) if staff.role == Role.BOUTIQUE else rows


def open_drafts(staff: Staff) -> list[Draft]:
    """What was started and not finished, last touched first. One statement."""
    # A piece that came in by another way meanwhile is here: its draft asks for nothing any more.
    rows = drafts_visible_to(staff).filter(ended_at=None, piece__place=Place.OWNER)
    return list(rows.order_by("-kept_at", "-pk")[:SHOWN])


def said_of(draft: Draft) -> dict[str, Said]:
    """What was typed at each step that was kept. One statement."""
    return dict(DraftStep.objects.filter(draft=draft).values_list("step", "said"))


def held_open(draft: Draft) -> Draft:
    """The draft under its lock, inside the caller's transaction. Raises DraftOver."""
    held = Draft.objects.select_for_update(of=("self",)).select_related("at_it", "piece", "boutique").get(pk=draft.pk)
    if held.ended_at is not None:
        raise DraftOver
    return held
