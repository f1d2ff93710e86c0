"""The desk looks at the house's usual time and price, and changes them."""

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from service_center.access.signed_in import staff_of
from service_center.intake.terms import actions, queries
from service_center.intake.terms.actions import ChangedMeanwhile
from service_center.intake.terms.forms import COMPLEXITIES, TermsForm


@require_http_methods(["GET", "HEAD", "POST"])
def usual_terms(request: HttpRequest) -> HttpResponse:
    """The table: working days and price, by what is asked and how complex the calibre is."""
    form = TermsForm(request.POST if request.method == "POST" else None, terms=queries.table())
    if form.is_bound and form.is_valid():
        try:
            actions.keep_terms(form.terms(), seen=form.cleaned_data["seen"], by=staff_of(request))
        except ChangedMeanwhile:
            form.add_error(None, _("Somebody else changed this table meanwhile. Please open it anew and compare."))
        else:
            messages.success(request, _("The table is kept. It counts for drop-offs from now on."))
            return redirect("intake:usual_terms")
    context = {"form": form, "currency": settings.HOUSE_CURRENCY, "complexities": COMPLEXITIES.values()}
    return render(request, "intake/usual_terms.html", context, status=422 if form.errors else 200)
