"""How the house reaches an owner: they see it and correct it; another e-mail address is confirmed from there."""

from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from service_center.book.models import Owner
from service_center.letters.models import Letter
from service_center.letters.queries.bounces import stop_of
from service_center.letters.rules.words import LetterState
from service_center.owner_pages import actions
from service_center.owner_pages.details_forms import TOO_MANY_CHANGES, DetailsForm, NameForm
from service_center.owner_pages.door import behind_secret, link_csrf, todays_date
from service_center.owner_pages.models import EmailChange
from service_center.owner_pages.opening import personal
from service_center.owner_pages.queries import (
    confirm_mail_of,
    email_change_of,
    open_request,
    postal_address_of,
    trusted_changes,
    zone_for,
)
from service_center.owner_pages.rules import CONFIRM, NOT_TAKEN, RequestKind, hash_secret, last_day


@personal
def details(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """See and correct them. A field that cannot be taken is named, and nothing that was typed is lost."""
    form = _form(letter, request)
    if request.method != "POST":
        return _page(request, letter, token, form)
    if not form.is_valid():
        return _page(request, letter, token, form, status=422)
    try:
        actions.correct_details(
            letter, form.details(), typed_over=form.typed_over(), on=todays_date(letter), now=timezone.now()
        )
    except actions.ChangedMeanwhileError as error:
        form.changed_meanwhile(error.stands)
        return _page(request, letter, token, form, status=422)
    except actions.TooManyChangesError:
        form.add_error("email", TOO_MANY_CHANGES)
        return _page(request, letter, token, form, status=429)
    return _back(token, "?thanks")


@personal
def correct_name(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """Ask the desk to write the name otherwise. A look leads to the particulars."""
    if request.method != "POST":
        return _back(token)
    form = NameForm(request.POST, auto_id="name-%s")
    if not form.is_valid():
        return _page(request, letter, token, _form(letter), name=form, status=422)
    said = form.cleaned_data["said"]
    if said == letter.owner.name:
        actions.keep_name(letter, now=timezone.now())
    else:
        actions.ask(letter, RequestKind.NAME, said=said, on=todays_date(letter), now=timezone.now())
    return _back(token, "?thanks")


@personal
def withdraw_email(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """Leave the e-mail address as it is. A look leads to the particulars."""
    if request.method == "POST":
        actions.withdraw_email_change(letter, now=timezone.now())
    return _back(token)


def _change_for(token: str, now: datetime) -> tuple[EmailChange, Owner] | None:
    """By the secret in the mail to the new address; unknown, old and withdrawn look alike."""
    changes = trusted_changes().filter(token_hash=hash_secret(CONFIRM, token), expires_at__gt=now, withdrawn_at=None)
    change = changes.select_related("owner").first()
    return (change, change.owner) if change else None


@csrf_exempt  # checked by link_csrf instead, which knows that these pages send no referrer
@require_http_methods(["GET", "HEAD", "POST"])
@behind_secret(_change_for, name=CONFIRM, patient=False)
@link_csrf
def confirm_email(request: HttpRequest, change: EmailChange, token: str) -> HttpResponse:
    """The button behind the link in the mail to a new address. A look changes nothing."""
    done = change.confirmed_at is not None and change.owner.email == change.email
    too_late = change.confirmed_at is not None and not done
    if request.method == "POST":
        done = actions.confirm_email(change, now=timezone.now())
        too_late = not done
    context = {"change": change, "token": token, "done": done, "too_late": too_late}
    return render(request, "owner_pages/confirm_email.html", context, status=409 if too_late else 200)


def _form(letter: Letter, request: HttpRequest | None = None) -> DetailsForm:
    sent = request.POST if request and request.method == "POST" else None
    language = translation.get_language() or ""
    return DetailsForm(sent, owner=letter.owner, address=postal_address_of(letter.owner), language=language)


def _back(token: str, query: str = "") -> HttpResponse:
    return redirect(reverse("owner_pages:details", kwargs={"token": token}) + query)


def _page(
    request: HttpRequest,
    letter: Letter,
    token: str,
    form: DetailsForm,
    *,
    name: NameForm | None = None,
    status: int = 200,
) -> HttpResponse:
    pending = email_change_of(letter.owner, timezone.now())
    mail = confirm_mail_of(pending) if pending else None
    context = {
        "letter": letter,
        "token": token,
        "form": form,
        "thanks": "thanks" in request.GET,
        "pending": pending,
        "pending_until": last_day(pending.expires_at, zone_for(letter.owner, letter)) if pending else None,
        "mail_stopped": pending is not None and stop_of(pending.email) is not None,
        "mail_lost": mail in NOT_TAKEN,
        "mail_in_doubt": mail is LetterState.IN_DOUBT,
        "name_asked": open_request(letter.owner, RequestKind.NAME),
        "name_form": name or NameForm(initial={"said": letter.owner.name}, auto_id="name-%s"),
        "name_open": name is not None,
    }
    return render(request, "owner_pages/details.html", context, status=status)
