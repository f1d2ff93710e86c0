"""The desk's pages of letters: the list, one letter as its owner sees it, and what a person decides about it."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from service_center.access.signed_in import staff_of
from service_center.letters import actions
from service_center.letters.composing import letter as compose
from service_center.letters.desk.words import (
    ANSWERS,
    CHANNELS,
    DEEDS,
    KINDS,
    MEANING,
    MEANING_WITHOUT_MAIL,
    STATES,
    STEPS,
)
from service_center.letters.forms import ReachedForm
from service_center.letters.models import Letter, Reminder
from service_center.letters.queries import bounces as bounce_queries
from service_center.letters.queries import listing
from service_center.letters.queries.contents import all_contents_of
from service_center.letters.queries.links import links_open
from service_center.letters.returned.words import told_of, why_stopped
from service_center.letters.rules.words import AnswerChoice, Channel, LetterState, Step

# Nothing but the letter's own inline styles; in a frame that runs nothing, sends nothing and opens nothing.
LETTER_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'; sandbox"


@require_safe
def letters(request: HttpRequest) -> HttpResponse:
    """All letters, newest first, those in doubt on top. Fifteen statements at most, whatever the number of letters."""
    state = _state(request.GET.get("state", ""))
    after = listing.Cursor.from_text(request.GET.get("after", ""))
    if request.GET.get("after") and after is None:
        raise Http404("no such page")
    page = listing.letters_page(state, after)
    counts = listing.counts_by_state()
    on_top = listing.letters_page(LetterState.IN_DOUBT, None).rows if state is None and after is None else []
    return render(
        request,
        "letters/letters.html",
        {
            "states": [_tally(one, counts[one], state) for one in LetterState],
            "state": STATES[state] if state else "",
            "in_doubt": [listed(row) for row in on_top],
            "rows": [listed(row) for row in page.rows],
            "alarm": bounce_queries.alarm(timezone.now()),
            "first": _address(state, None) if after else "",
            "following": _address(state, page.next) if page.next else "",
        },
    )


@require_safe
def letter(request: HttpRequest, pk: int) -> HttpResponse:
    """One letter: who, what, where it stands, and as the owner sees it, with links that open nothing."""
    found = _letter(pk)
    written = compose.write(all_contents_of([found])[found.pk], compose.masked_links())
    state, mailed, today = LetterState(found.state), found.channel == Channel.MAIL, timezone.localdate()
    to_reach = not mailed and state is LetterState.HELD
    return render(
        request,
        "letters/letter.html",
        {
            "letter": found,
            "state": STATES[state],
            "meaning": MEANING[state] if mailed else MEANING_WITHOUT_MAIL.get(state, MEANING[state]),
            "confirmation": listing.confirmation_of(found),
            "receipt": listing.receipt_of(found),
            "order_word": listing.order_word_of(found),
            "reminders": [_reminder(one) for one in listing.all_reminders_of(found)],
            "answers": [
                {"answer": one, "words": ANSWERS[AnswerChoice(one.choice)]} for one in listing.answers_to(found)
            ],
            "trail": [{"deed": one, "words": DEEDS.get(one.deed, one.deed)} for one in listing.trail_of(found)],
            "reports": [told_of(one) for one in bounce_queries.reports_of(found)],
            "stopped": (stopped := bounce_queries.stop_of(found.email) or bounce_queries.stop_of(found.owner.email)),
            "why_stopped": why_stopped(stopped) if stopped else "",
            "written": written,
            "in_doubt": state is LetterState.IN_DOUBT,
            "links_open": links_open(found, timezone.now()),
            "may_be_released": mailed and state in (LetterState.HELD, LetterState.REFUSED),
            "channel": "" if mailed else CHANNELS[Channel(found.channel)],
            "to_reach": to_reach,
            "form": ReachedForm(planned_on=found.planned_on, today=today, initial={"on": today}) if to_reach else None,
        },
    )


@require_safe
def letter_html(request: HttpRequest, pk: int) -> HttpResponse:
    """The letter's HTML alone, for the frame on its page."""
    found = _letter(pk)
    written = compose.write(all_contents_of([found])[found.pk], compose.masked_links())
    return HttpResponse(
        written.html, headers={"Content-Security-Policy": LETTER_POLICY, "Referrer-Policy": "no-referrer"}
    )


@require_POST
def settle_doubt(request: HttpRequest, pk: int) -> HttpResponse:
    """One of two buttons: sent again, or taken as sent."""
    found = _letter(pk)
    try:
        how = actions.Settled(request.POST.get("how", ""))
    except ValueError as fault:
        raise Http404("no such decision") from fault
    done = {
        actions.Settled.SENT_AGAIN: _("The letter goes out again, as the same message."),
        actions.Settled.TAKEN_AS_SENT: _("The letter is taken as sent."),
    }
    try:
        actions.settle_doubt(found, how, by=staff_of(request))
    except actions.NotInThatState as state:
        _say_too_late(request, str(state))
    else:
        messages.success(request, done[how])
    return redirect("letters:letter", pk=found.pk)


@require_POST
def release(request: HttpRequest, pk: int) -> HttpResponse:
    """Let a held letter go, or try a refused one again."""
    found = _letter(pk)
    try:
        actions.release(found, by=staff_of(request))
    except actions.NotInThatState as state:
        _say_too_late(request, str(state))
    else:
        messages.success(request, _("The letter goes out."))
    return redirect("letters:letter", pk=found.pk)


@require_POST
def withdraw_links(request: HttpRequest, pk: int) -> HttpResponse:
    """The letter reached the wrong hands: its links open nothing any more."""
    found = _letter(pk)
    if actions.withdraw_links(found, by=staff_of(request)):
        messages.success(request, _("The links of this letter open nothing any more."))
    return redirect("letters:letter", pk=found.pk)


def _letter(pk: int) -> Letter:
    return get_object_or_404(Letter.objects.select_related("owner"), pk=pk)


def _say_too_late(request: HttpRequest, state: str) -> None:
    text = _("Nothing was changed: the letter has moved on meanwhile, and is %(state)s now.")
    messages.warning(request, text % {"state": STATES[LetterState(state)]})


def _state(text: str) -> LetterState | None:
    try:
        return LetterState(text) if text else None
    except ValueError as fault:
        raise Http404("no such state") from fault


def _address(state: LetterState | None, after: listing.Cursor | None) -> str:
    asked = {"state": state.value if state else "", "after": str(after) if after else ""}
    query = urlencode({name: value for name, value in asked.items() if value})
    return reverse("letters:letters") + (f"?{query}" if query else "")


def _tally(state: LetterState, count: int, shown: LetterState | None) -> dict[str, Any]:
    return {
        "state": state.value,
        "word": STATES[state],
        "count": min(count, listing.COUNTED_UP_TO),
        "shown": f"{min(count, listing.COUNTED_UP_TO):,}",
        "more": count > listing.COUNTED_UP_TO,
        "here": state is shown,
        "href": _address(state, None),
    }


def listed(row: listing.LetterRow) -> dict[str, Any]:
    """A letter as a row of a list."""
    return {
        "letter": row.letter,
        "state": STATES[LetterState(row.letter.state)],
        "reminders": [_reminder(one) for one in row.reminders],
    }


def _reminder(one: Reminder) -> dict[str, Any]:
    return {"reminder": one, "kind": KINDS[one.service], "step": STEPS[Step(one.step)]}
