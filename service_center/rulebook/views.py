"""The house's interval rules: those there are, a new one, and the end of one; each change is looked at before it is kept."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.signed_in import staff_of
from service_center.book.rules import ServiceKind
from service_center.intervals.queries import rulebook
from service_center.intervals.rules import Rule, Scope
from service_center.intervals.rules.rulebook import Change, applying, standing_of
from service_center.rulebook import actions, wording
from service_center.rulebook.chart import chart_of, month_word
from service_center.rulebook.forms import EndForm, RuleForm

SCOPES_NARROWEST_FIRST = list(reversed(Scope))


@require_safe
def rules(request: HttpRequest) -> HttpResponse:
    """Every rule by kind and scope, how it stands today, and who changed what. Three statements."""
    today = timezone.localdate()
    before = request.GET.get("before", "")
    if before and not (before.isascii() and before.isdigit() and len(before) < 16):
        raise Http404
    written = rulebook.written_rules()
    deeds, older = rulebook.deeds(before=int(before) if before else None)
    context = {
        "today": today,
        "defaults_apply": not written,
        "kinds": _by_kind(applying(written), rulebook.keys_of_rules(), today),
        "deeds": [_told(deed) for deed in deeds],
        "older": older,
        "not_the_newest": bool(before),
    }
    return render(request, "rulebook/rules.html", context)


def _by_kind(found: tuple[Rule, ...], keys: dict[str, int], today: date) -> list[dict[str, Any]]:
    def order(rule: Rule) -> tuple[Any, ...]:
        return (
            SCOPES_NARROWEST_FIRST.index(rule.scope), rule.scope_value, rule.use or "",
            -rule.in_force_from.toordinal(),
        )  # fmt: skip

    return [
        {
            "name": wording.KINDS[kind],
            "rows": [
                _row(rule, keys, standing_of(rule, found, today))
                for rule in sorted(found, key=order)
                if rule.kind is kind
            ],
        }
        for kind in ServiceKind
    ]


def _row(rule: Rule, keys: dict[str, int], standing: Any) -> dict[str, Any]:
    word, mark = wording.STANDINGS[standing]
    return {
        "rule": rule,
        "key": keys.get(rule.code),
        "whom": wording.whom(rule),
        "use": wording.USES[rule.use],
        "since": wording.since(rule.in_force_from),
        "standing": word,
        "mark": mark,
    }


def _told(deed: rulebook.Deed) -> dict[str, Any]:
    return {
        "at": deed.at,
        "by": deed.by,
        "word": wording.DEEDS.get(deed.deed, deed.deed),
        "added": [(rule.code, wording.sentence(rule)) for rule in deed.added],
        "removed": [(rule.code, wording.sentence(rule)) for rule in deed.removed],
        "imported": deed.imported,
        "reason": deed.reason,
    }


@require_http_methods(["GET", "HEAD", "POST"])
def add_rule(request: HttpRequest) -> HttpResponse:
    """Write a new rule: first what it would do, then, with the very same values, the deed."""
    today, written = timezone.localdate(), rulebook.written_rules()
    if request.method == "POST":
        form = RuleForm(request.POST, written=written)
    else:
        form = RuleForm(written=written, initial={"in_force_from": today})
    context: dict[str, Any] = {"form": form, "pieces": rulebook.how_many_pieces(), "first": not written}
    if form.is_bound and form.is_valid():
        if request.POST.get("deed") == "save" and _kept(request, form, form.change(), "add_rule"):
            return redirect("rulebook:rules")
        if not form.errors:
            context |= {"preview": _preview(form.change(), today), "sent": _sent(request, form)}
    return render(request, "rulebook/add_rule.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def end_rule(request: HttpRequest, pk: int) -> HttpResponse:
    """End a rule: first what that would do, then the deed."""
    today, written, rule = timezone.localdate(), rulebook.written_rules(), rulebook.rule_by_key(pk)
    if rule is None:
        messages.error(request, _("That rule is no longer there. Somebody has taken it back meanwhile."))
        return redirect("rulebook:rules")
    to_come = rule.in_force_from > today
    begun = {"how": EndForm.TAKE_BACK if to_come else EndForm.FOLLOW, "day": None if to_come else today}
    data = request.POST if request.method == "POST" else None
    form = EndForm(data, rule=rule, written=written, as_of=today, initial=begun)
    context: dict[str, Any] = {"form": form, **_row(rule, {}, standing_of(rule, written, today))}
    context |= {"sentence": wording.sentence(rule), "to_come": to_come}
    if form.is_bound and form.is_valid():
        if request.POST.get("deed") == "save" and _kept(request, form, form.change(), form.deed):
            return redirect("rulebook:rules")
        if not form.errors:
            context |= {"preview": _preview(form.change(), today), "sent": _sent(request, form)}
    return render(request, "rulebook/end_rule.html", context, status=422 if form.errors else 200)


def _sent(request: HttpRequest, form: RuleForm | EndForm) -> list[tuple[str, str]]:
    """The values as they came, for the button that keeps exactly what was looked at."""
    return [(name, request.POST[name]) for name in form.fields if name in request.POST]


def _kept(request: HttpRequest, form: RuleForm | EndForm, change: Change, deed: str) -> bool:
    try:
        kept = actions.keep_change(
            change,
            deed=deed,
            reason=form.cleaned_data["reason"],
            by=staff_of(request),
            as_of=timezone.localdate(),
        )
    except actions.EqualRuleError as fault:
        form.add_error(None, wording.equal_rule(fault.other))
        return False
    except actions.RuleGoneError:
        form.add_error(
            None, _("The rule is no longer there, or no longer as it was. Please open the page of the rules anew.")
        )
        return False
    said = (
        _("Rule %(code)s is kept.") % {"code": ", ".join(rule.code for rule in kept.added)}
        if kept.added
        else _("Rule %(code)s is taken back.") % {"code": ", ".join(rule.code for rule in change.removed)}
    )
    if kept.pieces is None:
        messages.warning(request, said + " " + _("The due dates will be worked out with the next round."))
        return True
    worked_out = ngettext(
        "The due dates of %(count)s piece were worked out anew.",
        "The due dates of %(count)s pieces were worked out anew.",
        kept.pieces,
    ) % {"count": kept.pieces}
    messages.success(request, f"{said} {worked_out}")
    return True


def _preview(change: Change, today: date) -> dict[str, Any]:
    on, found = actions.foresee_change(change, as_of=today)
    return {
        "found": found,
        "on": on,
        "later_day": on > today,
        "added": [wording.sentence(rule) for rule in change.added],
        "removed": [wording.sentence(rule) for rule in change.removed],
        "nothing_moves": not (found.moved or found.sides or found.appear or found.vanish),
        "by_months": [(wording.months_moved(months), count) for months, count in found.by_months],
        "spread": wording.spread(found.earlier, found.later),
        "chart": chart_of([month for month in found.months if month.first_day]),
        "months": [
            {
                "word": month_word(month),
                "month": month,
                "due_more": month.due_after - month.due_before,
                "invited_more": month.invited_after - month.invited_before,
            }
            for month in found.months
        ],
        "examples": [{"one": one, "kind": wording.KINDS[one.kind]} for one in found.examples],
    }
