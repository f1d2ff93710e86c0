"""The desk's pages of letters: the list, one letter as its owner sees it, and what a person decides about it."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
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
    MEANING_REFUSED_TO_US,
    MEANING_WITHOUT_MAIL,
    REASONS,
    STATES,
    STEPS,
    why_in_words,
)
from service_center.letters.forms import ReachedForm
from service_center.letters.models import DeliveryReport, Letter, Reminder
from service_center.letters.queries import bounces as bounce_queries
from service_center.letters.queries import listing
from service_center.letters.queries.contents import all_contents_of
from service_center.letters.queries.links import links_open
from service_center.letters.queries.unsaid import beyond_reach, is_unsaid, refused_to_us
from service_center.letters.returned.words import told_of, why_stopped
from service_center.letters.rules.codes import Fault
from service_center.letters.rules.deciding import Reason
from service_center.letters.rules.restored import NAME_IS_BORNE
from service_center.letters.rules.words import AnswerChoice, Channel, LetterSort, LetterState, Step

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
            "deciding": state is LetterState.IN_DOUBT,
            "to_us": (to_us := _refused_to_us() if state is LetterState.REFUSED else 0),
            "to_us_shown": counted(to_us),
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
    written = compose.write(all_contents_of([found], now=timezone.now())[found.pk], compose.masked_links())
    state, mailed, today = LetterState(found.state), found.channel == Channel.MAIL, timezone.localdate()
    to_reach = not mailed and state is LetterState.HELD
    reminders, reports = listing.all_reminders_of(found), bounce_queries.reports_of(found)
    return render(
        request,
        "letters/letter.html",
        {
            "letter": found,
            "state": STATES[state],
            "reason": why_in_words(found.reason),
            "meaning": _meaning(found, reports),
            "confirmation": listing.confirmation_of(found),
            "receipt": listing.receipt_of(found),
            "order_word": listing.order_word_of(found),
            "reminders": [_reminder(one) for one in reminders],
            "answers": [
                {"answer": one, "words": ANSWERS[AnswerChoice(one.choice)]} for one in listing.answers_to(found)
            ],
            "trail": [{"deed": one, "words": DEEDS.get(one.deed, one.deed)} for one in listing.trail_of(found)],
            "reports": [told_of(one) for one in reports],
            "stopped": (stopped := bounce_queries.stop_of(found.email) or bounce_queries.stop_of(found.owner.email)),
            "why_stopped": why_stopped(stopped) if stopped else "",
            "written": written,
            "in_doubt": state is LetterState.IN_DOUBT,
            "links_open": links_open(found, timezone.now()),
            "may_be_released": _to_be_released(found) and not _why_not_released(found, reminders),
            "may_be_ended": _to_be_released(found) and found.reason == NAME_IS_BORNE,
            "channel": "" if mailed else CHANNELS[Channel(found.channel)],
            "to_reach": to_reach,
            "to_be_told": _to_be_told(found, reports),
            "form": ReachedForm(planned_on=found.planned_on, today=today, initial={"on": today}) if to_reach else None,
        },
    )


@require_safe
def letter_html(request: HttpRequest, pk: int) -> HttpResponse:
    """The letter's HTML alone, for the frame on its page."""
    found = _letter(pk)
    written = compose.write(all_contents_of([found], now=timezone.now())[found.pk], compose.masked_links())
    return HttpResponse(
        written.html, headers={"Content-Security-Policy": LETTER_POLICY, "Referrer-Policy": "no-referrer"}
    )


@require_POST
def settle_doubt(request: HttpRequest, pk: int) -> HttpResponse:
    """One of two buttons: sent again, or taken as sent. It decides the doubt that its page showed, and no later one."""
    found, now = _letter(pk), timezone.now()
    if request.POST.get("attempt") != str(found.attempt):
        _say_too_late(request, found.state)
        return redirect("letters:letter", pk=found.pk)
    try:
        how = actions.Settled(request.POST.get("how", ""))
    except ValueError as fault:
        raise Http404("no such decision") from fault
    try:
        actions.settle_doubt(found, how, by=staff_of(request), now=now, attempt=found.attempt)
    except actions.NotInThatState as state:
        _say_too_late(request, str(state))
    else:
        messages.success(request, _of_settled(found, how, now))
    return redirect("letters:letter", pk=found.pk)


def _of_settled(letter: Letter, how: actions.Settled, now: datetime) -> str:
    if how is actions.Settled.TAKEN_AS_SENT:
        return _("The letter is taken as sent.")
    if _waits(letter, now):
        return _("The letter goes out again in its owner’s morning, as the same message.")
    return _("The letter goes out again, as the same message.")


def _waits(letter: Letter, now: datetime) -> bool:
    return Letter.objects.filter(pk=letter.pk, not_before__gt=now).exists()


@require_POST
def release(request: HttpRequest, pk: int) -> HttpResponse:
    """Let a held letter go, or try a refused one again."""
    found, now = _letter(pk), timezone.now()
    if _to_be_released(found) and (why_not := _why_not_released(found, listing.all_reminders_of(found))):
        messages.warning(request, _("Nothing was changed: %(why)s.") % {"why": why_not})
        return redirect("letters:letter", pk=found.pk)
    try:
        actions.release(found, by=staff_of(request), now=now)
    except actions.TooNear as why:
        messages.warning(request, _("Nothing was changed: %(why)s.") % {"why": REASONS[Reason(str(why))]})
    except actions.NotInThatState as state:
        _say_too_late(request, str(state))
    else:
        told = _("The letter goes out in its owner’s morning.") if _waits(found, now) else _("The letter goes out.")
        messages.success(request, told)
    return redirect("letters:letter", pk=found.pk)


@require_POST
def try_all_again(request: HttpRequest) -> HttpResponse:
    """Try those again that were refused for the house's fault."""
    tried = actions.try_all_again(by=staff_of(request), now=timezone.now())
    if tried.go:
        said = ngettext("%(count)s letter goes out.", "%(count)s letters go out.", tried.go)
        messages.success(request, said % {"count": f"{tried.go:,}"})
    if tried.stay:
        said = ngettext(
            "%(count)s letter stays refused: its own page says why when you try it again.",
            "%(count)s letters stay refused: their own pages say why when you try them again.",
            tried.stay,
        )
        messages.warning(request, said % {"count": f"{tried.stay:,}"})
    if not (tried.go or tried.stay):
        messages.warning(request, _("Nothing was changed: no letter is refused for the house's fault any more."))
    return redirect(_address(LetterState.REFUSED, None))


@require_POST
def end(request: HttpRequest, pk: int) -> HttpResponse:
    """End a letter that cannot go under its number."""
    found = _letter(pk)
    try:
        actions.end_nameless(found, on=timezone.localdate(), by=staff_of(request))
    except actions.NotInThatState as state:
        _say_too_late(request, str(state))
    else:
        messages.success(request, _("The letter was ended. What is still due comes with a later round."))
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


def _meaning(found: Letter, reports: Sequence[DeliveryReport]) -> str | Promise:
    """What its state means for the desk."""
    state = LetterState(found.state)
    if found.channel != Channel.MAIL:
        return MEANING_WITHOUT_MAIL.get(state, MEANING[state])
    if state is LetterState.REFUSED and reports and reports[-1].fault in bounce_queries.OURS:
        return MEANING_REFUSED_TO_US
    return MEANING[state]


def _refused_to_us() -> int:
    """How many were refused for the house's fault; no further than just beyond COUNTED_UP_TO."""
    return refused_to_us()[: listing.COUNTED_UP_TO + 1].count()


def _to_be_released(found: Letter) -> bool:
    """Whether it waits for somebody to let it go, or to try it again."""
    return found.channel == Channel.MAIL and found.state in (LetterState.HELD, LetterState.REFUSED)


def _why_not_released(found: Letter, reminders: Sequence[Reminder]) -> str | Promise:
    """Why letting it go would not send it, as a sender finds when it takes it up; empty where it would."""
    if reason := beyond_reach(found):
        return REASONS[reason]
    if found.sort == LetterSort.INVITATION and all(one.ended_on for one in reminders):
        return _("nothing is left to be said in it")
    return why_in_words(found.reason) if found.reason == NAME_IS_BORNE else ""


def _to_be_told(found: Letter, reports: Sequence[DeliveryReport]) -> bool:
    """Whether the desk tells the owner in its place. Of those that were sent only such are looked at as came back."""
    if found.state == LetterState.SENT and all(one.fault != Fault.ADDRESS for one in reports):
        return False
    return is_unsaid(found)


def _say_too_late(request: HttpRequest, state: str) -> None:
    if state == LetterState.IN_DOUBT:
        text = _("Nothing was changed: that page did not show this doubt of the letter yet. Decide it here.")
    else:
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


def counted(count: int) -> str:
    """A count of letters as it is shown: exact as far as it was counted (listing.counts_by_state)."""
    if count > listing.COUNTED_UP_TO:
        return _("more than %(count)s") % {"count": f"{listing.COUNTED_UP_TO:,}"}
    return f"{count:,}"


def _tally(state: LetterState, count: int, shown: LetterState | None) -> dict[str, Any]:
    return {
        "state": state.value,
        "word": STATES[state],
        "shown": counted(count),
        "here": state is shown,
        "href": _address(state, None),
    }


def listed(row: listing.LetterRow) -> dict[str, Any]:
    """A letter as a row of a list."""
    return {
        "letter": row.letter,
        "state": STATES[LetterState(row.letter.state)],
        "reason": why_in_words(row.letter.reason),
        "reminders": [_reminder(one) for one in row.reminders],
    }


def _reminder(one: Reminder) -> dict[str, Any]:
    return {
        "reminder": one,
        "kind": KINDS[one.service],
        "step": STEPS[Step(one.step)],
        "why_ended": why_in_words(one.ended_because),
    }
