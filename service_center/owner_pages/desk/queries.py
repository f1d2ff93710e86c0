"""Reading what owners ask, for the desk."""

from collections.abc import Sequence
from dataclasses import dataclass

from service_center.access.models import Trail
from service_center.book.models import Owner, Piece
from service_center.letters.models import Letter
from service_center.owner_pages.models import Notice, OwnerRequest
from service_center.owner_pages.rules import RequestState

SHOWN = 100
LATELY = 30
OF_ONE = 50
LETTERS = 12


@dataclass(frozen=True, slots=True)
class Asked:
    """What is open, the most urgent first, and what was asked or done lately."""

    open: Sequence[OwnerRequest]
    more: bool
    lately: Sequence[OwnerRequest]


def what_owners_ask() -> Asked:
    """Two statements, by index."""
    rows = OwnerRequest.objects.select_related("owner", "decided_by")
    waiting = list(rows.filter(state=RequestState.OPEN).order_by("due_on", "pk")[: SHOWN + 1])
    lately = list(rows.exclude(state=RequestState.OPEN).order_by("-pk")[:LATELY])
    return Asked(waiting[:SHOWN], len(waiting) > SHOWN, lately)


def trail_of(owner: Owner) -> list[Trail]:
    """What was changed and asked of one owner, the latest first. One statement, by index."""
    rows = Trail.objects.filter(subject=f"owner:{owner.code}").select_related("by")
    return list(rows.order_by("-at", "-pk")[:OF_ONE])


def watches_of(owner: Owner) -> list[Piece]:
    """The pieces of one owner, by serial. One statement, by index."""
    return list(Piece.objects.filter(owner=owner).select_related("model").order_by("serial")[:OF_ONE])


def letters_of(owner: Owner) -> list[Letter]:
    """The latest letters to one owner and one more, newest first, with their reminders. Two statements, by index."""
    rows = Letter.objects.filter(owner=owner).prefetch_related("reminders__piece")
    return list(rows.order_by("-planned_on", "-pk")[: LETTERS + 1])


def notices_of(owner: Owner) -> list[Notice]:
    """The mails about another e-mail address of one owner, the latest first. One statement."""
    return list(Notice.objects.filter(change__owner=owner).select_related("change").order_by("-pk")[:OF_ONE])
