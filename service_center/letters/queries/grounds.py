"""On which ground an owner has letters."""

from typing import Any

from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q

from service_center.book.models import Owner
from service_center.letters.models import LetterGround
from service_center.letters.rules.words import Ground


def latest_ground(owner: Owner) -> LetterGround | None:
    """The latest ground that was written down, with its day and its words. One statement, by index."""
    return LetterGround.objects.filter(owner=owner).order_by("-pk").first()


def grounds_of(owner: Owner) -> list[LetterGround]:
    """Every ground of an owner, the latest first. One statement, by index."""
    return list(LetterGround.objects.filter(owner=owner).select_related("recorded_by").order_by("-pk"))


def has_ground(owner: str) -> "ExpressionWrapper[Any]":
    """Of an outer row: its owner (a field's path) has a ground, and the latest is no withdrawal.

    Withdrawals are few and have an index of their own: whoever never withdrew costs no search among grounds.
    """
    given = LetterGround.objects.filter(owner=OuterRef(owner)).exclude(ground=Ground.WITHDRAWN)
    later = LetterGround.objects.filter(owner=OuterRef("owner"), pk__gt=OuterRef("pk"))
    withdrawn = LetterGround.objects.filter(~Exists(later), owner=OuterRef(owner), ground=Ground.WITHDRAWN)
    return ExpressionWrapper(Q(Exists(given)) & ~Q(Exists(withdrawn)), output_field=BooleanField())
