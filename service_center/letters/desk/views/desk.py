"""The desk's place for letters: what needs a hand, the weeks ahead, held rounds, and what owners answered."""

from datetime import date, datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from service_center.access.signed_in import staff_of
from service_center.book.rules import ServiceKind
from service_center.letters import actions
from service_center.letters.answered.queries import Answered, answer_tables
from service_center.letters.desk.views.letters import counted
from service_center.letters.desk.words import ANSWERS, DECISIONS, HELD_BECAUSE, KINDS, STEPS
from service_center.letters.forms import PeriodForm
from service_center.letters.models import Round
from service_center.letters.queries import bounces as bounce_queries
from service_center.letters.queries import held_letters, held_rounds, listing, reaching
from service_center.letters.queries.ahead import SHOWN, by_day, reminders_ahead
from service_center.letters.queries.orders import orders_to_tell
from service_center.letters.rules.ahead import Week, weeks_ahead
from service_center.letters.rules.words import AnswerChoice, LetterState, RoundDecision, Unusual

WEEKS_AHEAD = 13
LATEST_ROUNDS = 10


@require_safe
def desk(request: HttpRequest) -> HttpResponse:
    """Monday: what needs a hand on top, then the week ahead, then the latest rounds."""
    today = timezone.localdate()
    counts = listing.counts_by_state()
    weeks, counted_at = _weeks(today, 2)
    return render(
        request,
        "letters/desk.html",
        {
            "held_rounds": [_round(one) for one in held_rounds.held_rounds()],
            "in_doubt": counted(counts[LetterState.IN_DOUBT]),
            "refused": counted(listing.to_see_to(LetterState.REFUSED)[: listing.COUNTED_UP_TO + 1].count()),
            "held": counted(counts[LetterState.HELD]),
            "since_restore": (since_restore := held_letters.held_since_restore()),
            "since_restore_shown": counted(since_restore),
            "waiting": counted(counts[LetterState.WAITING]),
            "prepared": reaching.prepared().count(),
            "without_word": len(orders_to_tell()),
            "alarm": bounce_queries.alarm(timezone.now()),
            "weeks": weeks,
            "counted_at": counted_at,
            "rounds": [_round(one) for one in held_rounds.latest(LATEST_ROUNDS)],
        },
    )


@require_safe
def ahead(request: HttpRequest) -> HttpResponse:
    """The reminders of the next thirteen weeks by working day; those of one day, where one is asked for."""
    today = timezone.localdate()
    chosen = _day(request, "day")
    weeks, counted_at = _weeks(today, WEEKS_AHEAD)
    shown = next((day for week in weeks for day in week.days if day.day == chosen), None)
    rows = reminders_ahead(shown.first, shown.day) if shown else []
    return render(
        request,
        "letters/ahead.html",
        {
            "weeks": weeks,
            "counted_at": counted_at,
            "chosen": shown,
            "rows": [{"one": row, "kind": KINDS[ServiceKind(row.due.kind)], "step": STEPS[row.step]} for row in rows],
            "shown": SHOWN,
        },
    )


@require_safe
def answers(request: HttpRequest) -> HttpResponse:
    """What owners answered to the letters of a time: by kind and step, and by month."""
    today = timezone.localdate()
    usual = {"first": (today - timedelta(days=365)).replace(day=1), "last": today}
    form = PeriodForm(request.GET or None, initial=usual)
    period = form.cleaned_data if form.is_bound and form.is_valid() else usual
    tables = answer_tables(period["first"], period["last"], now=timezone.now())
    return render(
        request,
        "letters/answers.html",
        {
            "form": form,
            "period": period,
            "choices": [ANSWERS[choice] for choice in AnswerChoice],
            "by_step": [
                {"name": KINDS[kind], "step": STEPS[step], **_answered(one)}
                for (kind, step), one in tables.by_step.items()
            ],
            "by_month": [{"month": month, **_answered(one)} for month, one in tables.by_month.items()],
            "all": _answered(tables.all),
            "counted_at": tables.counted_at,
        },
    )


@require_safe
def round_held(request: HttpRequest, pk: int) -> HttpResponse:
    """One round: its numbers, some of its letters, and, where it is held, the two buttons."""
    one = get_object_or_404(Round, pk=pk)
    return render(
        request,
        "letters/round.html",
        {
            **_round(one),
            "cut_off": bool(one.decision) and held_rounds.letters_left(one).exists(),
            "steps": [(KINDS[count.kind], STEPS[count.step], count.reminders) for count in held_rounds.counts_of(one)],
            "languages": held_rounds.languages_of(one),
            "examples": held_rounds.examples_of(one),
            "after_restore": one.unusual == Unusual.RESTORED,
        },
    )


@require_POST
def decide_round(request: HttpRequest, pk: int) -> HttpResponse:
    """One of two buttons: let the round's letters go, or take them back."""
    one, today = get_object_or_404(Round, pk=pk), timezone.localdate()
    try:
        decision = RoundDecision(request.POST.get("decision", ""))
    except ValueError as fault:
        raise Http404("no such decision") from fault
    try:
        if decision is RoundDecision.LET_GO:
            count = actions.let_round_go(one, by=staff_of(request), now=timezone.now())
            text = _("%(count)s letters go out, each in the morning of its owner.")
        else:
            count = actions.take_round_back(one, on=today, by=staff_of(request))
            text = _("%(count)s letters were taken back. What is still due comes with a later round.")
    except actions.AlreadyDecided as before:
        word = DECISIONS[RoundDecision(str(before))] if str(before) else _("not held")
        messages.warning(request, _("Nothing was changed: the round is %(word)s.") % {"word": word})
    else:
        messages.success(request, text % {"count": count})
    return redirect("letters:desk")


def _day(request: HttpRequest, name: str) -> date | None:
    try:
        return date.fromisoformat(request.GET.get(name, ""))
    except ValueError:
        return None


def _weeks(today: date, weeks: int) -> tuple[list[Week], datetime | None]:
    """The weeks with their counts, and when these were counted, where that was not now."""
    tomorrow, last = today + timedelta(days=1), today + timedelta(weeks=weeks)
    found = by_day(tomorrow, last + timedelta(days=6 - last.weekday()), now=timezone.now())
    return weeks_ahead(tomorrow, weeks, found.counts), found.made_at


def _round(one: Round) -> dict[str, Any]:
    return {
        "round": one,
        "because": HELD_BECAUSE[Unusual(one.unusual)] if one.unusual else "",
        "decision": DECISIONS[RoundDecision(one.decision)] if one.decision else "",
        "undecided": bool(one.unusual and not one.decision and one.letters),
    }


def _answered(one: Answered) -> dict[str, Any]:
    return {
        "sent": one.sent,
        "by_choice": [one.by_choice[choice] for choice in AnswerChoice],
        "open": one.open,
        "rate": round(one.rate),
        "answered": one.answered,
    }
