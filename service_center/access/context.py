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
    ("today:home", _("Today")),
    ("intake:visits", _("Visits")),
    ("intake:find", _("Take in")),
    ("bench:orders", _("Orders")),
    ("bench:queue", _("Bench")),
    ("intervals:due_list", _("Due")),
    ("letters:desk", _("Letters")),
    ("planning:weeks", _("Weeks")),
    ("calendars:mine", _("My weeks")),
    ("owners:requests", _("Owners")),
    ("house", _("House")),
    ("demo:mailbox", _("Mail")),
]

# Places that one role has a reason to go to; who else may open them finds them empty.
OWN_PLACES = {"calendars:mine": Role.WATCHMAKER}

# What is set once and rarely changed: behind one place, so that the places of the day stay on one line of a tablet.
SETTINGS = [
    ("rulebook:rules", _("Interval rules"), _("How many months after its start a service opens, is due and closes.")),
    ("guarantee:house", _("Guarantee"), _("How many months are promised, and which findings are covered.")),
    ("intake:usual_terms", _("Usual terms"), _("Working days and prices that the counter promises and estimates.")),
    ("intake:opening_hours", _("Opening hours"), _("When each boutique receives, how many at once, and its holidays.")),
    ("bench:settings", _("Limits and tests"), _("Limits by calibre, tests of tightness, files of timing machines.")),
    ("workshop:standard_times", _("Standard minutes"), _("How long each operation takes, and what your orders say.")),
    ("workshop:parts", _("Parts"), _("What lies on the shelf, what it fits, and how it is ordered.")),
    ("calendars:benches", _("Benches"), _("Who is at a bench and when: weeks, skills, absences, closures, holidays.")),
    ("letters:wording", _("Words of the letters"), _("Each sentence that owners read, in six languages.")),
    ("exchange:import_book", _("The book's files"), _("Bring owners, pieces and history in; take the book away.")),
]

# The place that stays marked on the pages behind it, by a page's name or by the first part of it.
BEHIND = {
    **{name: "house" for name, _label, _about in SETTINGS if not name.startswith("letters:")},
    "bench:judging": "house",
    "bench:new_machine_file": "house",
    "bench:machine_file": "house",
    "intake:drop_off": "intake:find",
    "bench:one_hand": "bench:queue",
    "bench:reception": "bench:queue",
    "intake:new_piece": "intake:find",
    "intake:owner_of": "intake:find",
    "intake:step": "intake:find",
    "intake:give_up": "intake:find",
    "intake:taken_in": "bench:orders",
    "bench:order": "bench:orders",
    "bench:estimate": "bench:orders",
    "letters": "letters:desk",
    "owners": "owners:requests",
    "planning": "planning:weeks",
    "rulebook": "house",
    "workshop": "house",
    "workshop:order_parts": "bench:queue",
    "calendars:mine": "calendars:mine",
    "calendars": "house",
    "planning:week_plan": "planning:weeks",
    "planning:plan_line": "planning:weeks",
    "exchange": "house",
    "demo": "demo:mailbox",
}

ROLE_NAMES = {
    Role.BOUTIQUE: _("Boutique"),
    Role.DESK: _("Service desk"),
    Role.WATCHMAKER: _("Watchmaker"),
    Role.MANAGER: _("Manager"),
}


def house(request: HttpRequest) -> dict[str, Any]:
    """The house's name and the navigation of whoever is signed in."""
    role = _role(getattr(request, "user", None))
    here = request.resolver_match.view_name if request.resolver_match else ""
    place = _place_of(here)
    places = [
        {"label": label, "href": reverse(name), "here": name == here, "within": name == place}
        for name, label in PLACES
        if may_open(name, role)
        and role == OWN_PLACES.get(name, role)
        and (settings.DEMO or not name.startswith("demo:"))
    ]
    return {
        "house_name": settings.HOUSE_NAME,
        "house_mail": settings.MAIL_FROM,
        "demo": settings.DEMO,
        "places": places if role else [],
        "who_role": ROLE_NAMES.get(Role(role), "") if role else "",
    }


def settings_of(user: object) -> list[dict[str, Any]]:
    """What the house has set, as far as this person may open it: label, what it is about, address."""
    role = _role(user)
    return [
        {"label": label, "about": about, "href": reverse(name)}
        for name, label, about in SETTINGS
        if may_open(name, role)
    ]


def _role(user: object) -> str | None:
    return user.role if isinstance(user, Staff) else None


def _place_of(here: str) -> str:
    """The place of the navigation behind which a page lies; itself, where it lies behind none."""
    return BEHIND.get(here) or BEHIND.get(here.split(":", maxsplit=1)[0], here)
