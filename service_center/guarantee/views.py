"""Who pays for what was found at a piece; the house's months and table; the guarantee card."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.book.models import Piece
from service_center.book.queries import pieces_visible_to
from service_center.guarantee import actions, papers, queries, words
from service_center.guarantee.finding_words import because, names
from service_center.guarantee.forms import DecideForm, TableForm, TermsForm
from service_center.guarantee.models import HouseTerms
from service_center.guarantee.rules import HOUSE_TERMS, Cover, Decision, Finding, decide, from_record, terms_on
from service_center.papers.rules import PageSize


def _piece(request: HttpRequest, pk: int) -> Piece:
    visible = pieces_visible_to(staff_of(request)).select_related("model__calibre", "owner", "boutique")
    return get_object_or_404(visible, pk=pk)


def _country(one: Piece) -> str:
    return (one.owner.country if one.owner else "") or (one.boutique.country if one.boutique else "")


@require_safe
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    """What covers a piece on the day a fault was reported, and each finding by the house's table."""
    one, today = _piece(request, pk), timezone.localdate()
    text, wrong = request.GET.get("reported_on", ""), ""
    day = today
    if text:
        try:
            day = date.fromisoformat(text)
        except ValueError:
            wrong = _("Write the day as year-month-day.")
        if day > today:
            day, wrong = today, _("That day is still to come.")
    form = DecideForm(reported_on=day)
    return _page(request, one, day, form, wrong=wrong, status=422 if wrong else 200)


@require_POST
def decide_cover(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a decision of staff on one finding."""
    one, today = _piece(request, pk), timezone.localdate()
    form = DecideForm(request.POST, reported_on=today)
    if form.is_valid() and form.cleaned_data["reported_on"] > today:
        form.add_error(None, _("The day it was reported is still to come."))
    if form.is_valid():
        finding = Finding(form.cleaned_data["finding"])
        try:
            actions.keep_decision(one, finding, **form.deed(), country=_country(one), by=staff_of(request))
        except actions.NeedsAReasonError:
            form.add_error("reason", _("You decide otherwise than the house's table: say why."))
        else:
            messages.success(request, _("The decision is kept."))
            return redirect("guarantee:piece", pk=one.pk)
    day = form.cleaned_data.get("reported_on", today) if hasattr(form, "cleaned_data") else today
    return _page(request, one, min(day, today), form, status=422)


def _page(
    request: HttpRequest, one: Piece, day: date, form: DecideForm, *, wrong: str = "", status: int = 200
) -> HttpResponse:
    decision = queries.decision_of(one, day, country=_country(one))
    table = queries.house_table()
    context = {
        "piece": one,
        "day": day,
        "wrong": wrong,
        "name": words.name_of(decision.covered_by),
        "covered": decision.cover is not None,
        "sentence": words.sentence(decision),
        "notes": words.notes(decision),
        "statutory": words.statutory_note(),
        "covers": [(words.name_of(cover.by), cover, _moves(cover, decision)) for cover in decision.covers],
        "last_check": queries.last_check_of(one, day),
        "rated": bool(one.model and one.model.rated_bar),
        "findings": [
            {"name": name, "said": said, "by": words.name_of(said.by), "because": because(said, table[finding])}
            for finding, name in names().items()
            for said in [decide(finding, decision, table)]
        ],
        "kept": [
            {"decision": kept, "name": names()[Finding(kept.finding)], "then": from_record(kept.record)}
            for kept in queries.decisions_of(one)
        ],
        "form": form,
        "decides": may_open("guarantee:decide", staff_of(request).role),
    }
    return render(request, "guarantee/piece.html", context, status=status)


def _moves(cover: Cover, decision: Decision) -> bool:
    """Whether its last day is no working day and no sentence of the decision has said so."""
    return cover.moved_to != cover.to_on and cover not in (decision.cover, decision.perhaps)


@require_safe
def card(request: HttpRequest, pk: int) -> HttpResponse:
    """The guarantee card as PDF, as of today; `?size=letter` or `A4` for another printer."""
    one = _piece(request, pk)
    asked = request.GET.get("size", "")
    size = PageSize(asked) if asked in papers.SIZES else papers.size_for(_country(one))
    content = papers.guarantee_card(one, as_of=timezone.localdate(), country=_country(one), size=size)
    headers = {"Content-Disposition": f'inline; filename="{papers.file_name(one)}"'}
    return HttpResponse(content, content_type="application/pdf", headers=headers)


@require_http_methods(["GET", "HEAD", "POST"])
def house(request: HttpRequest) -> HttpResponse:
    """The house's months over time, and its table of findings."""
    today, staff = timezone.localdate(), staff_of(request)
    now = terms_on(today, queries.dated_terms())
    begun: dict[str, Any] = {name: getattr(now, name) for name in now.__dataclass_fields__}
    terms_form = TermsForm(initial={**begun, "from_on": today})
    table_form = TableForm(table=queries.house_table())
    if request.method == "POST" and request.POST.get("deed") == "terms":
        terms_form = TermsForm(request.POST)
        if terms_form.is_valid():
            actions.set_terms(terms_form.terms(), from_on=terms_form.cleaned_data["from_on"], by=staff)
            messages.success(request, _("Kept. What was sold or done before keeps what it was promised."))
            return redirect("guarantee:house")
    elif request.method == "POST":
        table_form = TableForm(request.POST, table=queries.house_table())
        if table_form.is_valid():
            actions.set_table(table_form.table(), by=staff)
            messages.success(request, _("The table is kept. Decisions made before stay as they are."))
            return redirect("guarantee:house")
    context = {
        "terms_form": terms_form,
        "table_form": table_form,
        "terms": HouseTerms.objects.select_related("recorded_by").order_by("-from_on", "-pk"),
        "usual": HOUSE_TERMS,
    }
    status = 422 if terms_form.errors or table_form.errors else 200
    return render(request, "guarantee/house.html", context, status=status)
