"""Letters that a backup brought back as waiting: looked through, let go, or ended."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from service_center.access.signed_in import staff_of
from service_center.letters import actions
from service_center.letters.desk.views.letters import counted, listed
from service_center.letters.desk.words import SORTS
from service_center.letters.forms import EndHeldForm
from service_center.letters.models import Letter
from service_center.letters.queries import held_letters
from service_center.letters.queries.held_letters import Chosen
from service_center.letters.queries.held_rounds import rounds_are_held_after_restore
from service_center.letters.queries.listing import Cursor
from service_center.letters.rules.words import LetterSort


@require_safe
def held(request: HttpRequest) -> HttpResponse:
    """Which letters are held, what the journals said, and the two deeds. Ten statements of its own at most."""
    chosen, after = _chosen(request), Cursor.from_text(request.GET.get("after", ""))
    if request.GET.get("after") and after is None:
        raise Http404("no such page")
    here = {"day": chosen.day, "sort": chosen.sort, "after": after}
    return _page(request, chosen, after, EndHeldForm(initial={**here, "which": EndHeldForm.TICKED}))


@require_POST
def go_on(request: HttpRequest) -> HttpResponse:
    """Let all of them go."""
    count = actions.go_on(by=staff_of(request), now=timezone.now())
    if count:
        said = ngettext(
            "%(count)s letter goes out.", "%(count)s letters go out, invitations in their owners' mornings.", count
        )
        messages.success(request, said % {"count": f"{count:,}"})
    else:
        _say_decided(request)
    return redirect("letters:held")


@require_POST
def end_held(request: HttpRequest) -> HttpResponse:
    """End those that are ticked, or all of the list; with errors, the page again with all that was said."""
    form = EndHeldForm(request.POST)
    if not form.is_valid():
        after = Cursor.from_text(form.cleaned_data.get("after", ""))
        return _page(request, _of(form), after, form, status=422)
    said = form.cleaned_data
    letters = Letter.objects.all()
    if said["which"] == EndHeldForm.TICKED:
        letters = letters.filter(pk__in=form.ticked)
    count = actions.end_held(
        _of(form).of(letters), because=said["reason"], on=timezone.localdate(), by=staff_of(request)
    )
    if count:
        done = ngettext("%(count)s letter was ended.", "%(count)s letters were ended.", count)
        messages.success(request, done % {"count": f"{count:,}"})
    else:
        _say_decided(request)
    if said["which"] == EndHeldForm.ALL:
        return redirect("letters:held")
    return redirect(_address(_of(form), Cursor.from_text(said["after"])))


def _say_decided(request: HttpRequest) -> None:
    messages.warning(request, _("Nothing was changed: somebody has decided about these letters already."))


def _page(
    request: HttpRequest, chosen: Chosen, after: Cursor | None, form: EndHeldForm, status: int = 200
) -> HttpResponse:
    groups, page = held_letters.groups(), held_letters.held_page(chosen, after)
    if after and not page.rows:  # those of this page are decided about: the list begins at its beginning
        after, page = None, held_letters.held_page(chosen, None)
    context: dict[str, Any] = {
        "number": sum(one.letters for one in groups),
        "groups": [
            {"group": one, "sort": SORTS[one.sort], "href": _address(Chosen(one.planned_on, one.sort), None)}
            for one in groups
        ],
        "chosen": chosen,
        "chosen_sort": SORTS[chosen.sort] if chosen.sort else "",
        "rows": [listed(row) | {"ticked": row.letter.pk in form.ticked} for row in page.rows],
        "first": _address(chosen, None) if after else "",
        "following": _address(chosen, page.next) if page.next else "",
        "in_doubt": (in_doubt := held_letters.in_doubt_since_restore()),
        "in_doubt_shown": counted(in_doubt),
        "restore": held_letters.latest_restore(),
        "rounds_are_held": rounds_are_held_after_restore(),
        "form": form,
    }
    return render(request, "letters/held.html", context, status=status)


def _chosen(request: HttpRequest) -> Chosen:
    day, sort = request.GET.get("day", ""), request.GET.get("sort", "")
    try:
        return Chosen(date.fromisoformat(day) if day else None, LetterSort(sort) if sort else None)
    except ValueError as fault:
        raise Http404("no such letters") from fault


def _of(form: EndHeldForm) -> Chosen:
    """What the form's list was of. An altered form is of no letters that are not held."""
    said = form.cleaned_data
    return Chosen(said.get("day"), LetterSort(said["sort"]) if said.get("sort") else None)


def _address(chosen: Chosen, after: Cursor | None) -> str:
    asked = {
        "day": chosen.day.isoformat() if chosen.day else "",
        "sort": chosen.sort.value if chosen.sort else "",
        "after": str(after) if after else "",
    }
    query = urlencode({name: value for name, value in asked.items() if value})
    return reverse("letters:held") + (f"?{query}" if query else "")
