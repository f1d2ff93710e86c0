"""What every page knows: the house, who is signed in, and where they may go."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from service_center.access.models import Staff
from service_center.access.rules import Role, may_open

# In the order of a working day; the table in rules.py decides which of them a role sees.
PLACES = [
    ("pieces:home", _("Today")),
    ("intake:visits", _("Visits")),
    ("intake:find", _("Take in")),
    ("intake:drop_offs", _("Taken in")),
    ("intervals:due_list", _("Due")),
    ("letters:desk", _("Letters")),
    ("planning:weeks", _("Weeks")),
    ("rulebook:rules", _("Rules")),
    ("owners:requests", _("Owners")),
    ("bench:settings", _("Bench")),
    ("guarantee:house", _("Guarantee")),
    ("exchange:import_book", _("Book")),
    ("demo:mailbox", _("Mail")),
]

ROLE_NAMES = {
    Role.BOUTIQUE: _("Boutique"),
    Role.DESK: _("Service desk"),
    Role.WATCHMAKER: _("Watchmaker"),
    Role.MANAGER: _("Manager"),
}


def house(request: HttpRequest) -> dict[str, Any]:
    """The house's name and the navigation of whoever is signed in."""
    staff = getattr(request, "user", None)
    role = staff.role if isinstance(staff, Staff) else None
    here = request.resolver_match.view_name if request.resolver_match else ""
    places = [
        {"label": label, "href": reverse(name), "here": name == here}
        for name, label in PLACES
        if role and may_open(name, role) and (settings.DEMO or not name.startswith("demo:"))
    ]
    return {
        "house_name": settings.HOUSE_NAME,
        "demo": settings.DEMO,
        "places": places,
        "who_role": ROLE_NAMES.get(Role(role), "") if role else "",
    }
