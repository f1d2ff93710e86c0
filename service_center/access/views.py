"""The house: one page that leads to what is set once and rarely changed; and one's own e-mail address."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.actions import keep_address
from service_center.access.context import settings_of
from service_center.access.forms import OwnAddressForm
from service_center.access.signed_in import staff_of


@require_safe
def house(request: HttpRequest) -> HttpResponse:
    """What the house has set, each with what it is about. No statement."""
    return render(request, "access/house.html", {"chapters": settings_of(request.user)})


@require_http_methods(["GET", "HEAD", "POST"])
def own_address(request: HttpRequest) -> HttpResponse:
    """The e-mail address of whoever is signed in, to which letters go that they try on themselves."""
    staff = staff_of(request)
    form = OwnAddressForm(request.POST or None, initial={"email": staff.email})
    if request.method == "POST" and form.is_valid():
        keep_address(staff, form.cleaned_data["email"], by=staff)
        messages.success(request, _("Kept.") if staff.email else _("Kept: you have no address now."))
        return redirect("own_address")
    return render(request, "access/own_address.html", {"form": form}, status=422 if form.errors else 200)
