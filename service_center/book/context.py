"""What every page knows from the book: the boutique of whoever is signed in, by its name."""

from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from service_center.access.models import Staff
from service_center.book.models import Boutique


def boutique(request: HttpRequest) -> dict[str, Any]:
    """The boutique's name; its code where the book has no such boutique. One statement, where a page shows it."""
    user = getattr(request, "user", None)
    if not isinstance(user, Staff) or not user.boutique:
        return {"who_boutique": ""}
    code = user.boutique

    def name() -> str:
        return Boutique.objects.filter(code=code).values_list("name", flat=True).first() or code

    return {"who_boutique": SimpleLazyObject(name)}
