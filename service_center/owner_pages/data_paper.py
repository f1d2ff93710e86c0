"""A copy of an owner's data to read: the same as copying.py gathers, as a paper in their language."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.conf import settings
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from service_center.book.days import day_written
from service_center.book.models import Owner, Piece
from service_center.book.wording import FALLBACK, language_of, listed, one_after_another, quoted, said_of
from service_center.intake.models import DropOff, Visit
from service_center.letters.calendars import zone_of
from service_center.letters.composing.sentences import what
from service_center.letters.models import Answer, Letter
from service_center.letters.queries.grounds import grounds_of
from service_center.letters.queries.listing import reminders_of
from service_center.letters.queries.wording import wordings_of
from service_center.letters.rules.words import LetterSort
from service_center.owner_pages.copying import changes_of, email_changes_of, former_pieces
from service_center.owner_pages.copying_letters import letters_of
from service_center.owner_pages.data_orders import order_parts, word_in_words
from service_center.owner_pages.data_part import Part, given
from service_center.owner_pages.data_words import (
    LETTER_GROUNDS,
    REQUESTS,
    changes_in_words,
    email_change_in_words,
    grounds,
    left_out,
    request_in_words,
    sent_in_words,
    visit_kept_in_words,
)
from service_center.owner_pages.piece_page import happenings
from service_center.owner_pages.places import countries
from service_center.owner_pages.queries import drop_offs_of, own_times, postal_address_of, requests_of, work_on
from service_center.owner_pages.rules import OwnTime, RequestKind
from service_center.owner_pages.wording import answer_in_words
from service_center.papers.render import render
from service_center.papers.rules import LETTER_PAPER, PageSize

# What an owner said in words of their own when they asked for it.
OWN_WORDS = (RequestKind.NAME, RequestKind.CORRECTION)


def data_paper(owner: Owner, *, now: datetime) -> bytes:
    """The copy as PDF, its days by the owner's clock."""
    language = language_of(owner)
    size = PageSize.LETTER if owner.country in LETTER_PAPER else PageSize.A4
    with translation.override(language), timezone.override(zone_of(owner.time_zone)):
        context = {
            "owner": owner,
            "day": day_written(now),
            "parts": _parts(owner),
            "grounds": grounds(),
            "left_out": left_out(),
            "more": _("Every reading, link and change with all its figures is in the copy for another program (JSON)."),
            "contact": settings.MAIL_FROM,
        }
        return render("owner_pages/data_paper.html", context, size=size, language=language)


def _parts(owner: Owner) -> list[Part]:
    own = list(Piece.objects.filter(owner=owner).select_related("model", "boutique").order_by("serial"))
    former = former_pieces(owner)
    drop_offs = list(drop_offs_of(owner, [*own, *former]))
    times = own_times(owner, [*own, *former])
    work = work_on([*own, *former])
    parts = [_particulars(owner)]
    parts += [_piece(one, times.get(one.pk), drop_offs, work[one.pk], still=True) for one in own]
    parts += [_piece(one, times.get(one.pk), drop_offs, work[one.pk], still=False) for one in former]
    parts += [
        _grounds(owner),
        _letters(owner),
        _answers(owner),
        _visits(owner),
        _drop_offs(drop_offs),
        *order_parts(owner),
        _requests(owner),
        _email_changes(owner),
        _changes(owner),
    ]
    return [part for part in parts if part.facts or part.lines]


def _particulars(owner: Owner) -> Part:
    wanted = {True: _("Yes"), False: _("No"), None: _("Not told")}[owner.letters]
    return Part(
        _("Your particulars"),
        given(
            (_("Your name"), owner.name),
            (_("Number with us"), owner.code),
            (_("E-mail"), owner.email),
            (_("Telephone"), owner.phone),
            (_("Postal address"), postal_address_of(owner)),
            (_("Country"), dict(countries(translation.get_language() or "")).get(owner.country, owner.country)),
            (_("Language of our letters and pages"), dict(settings.LANGUAGES).get(owner.language, owner.language)),
            (_("Time zone"), owner.time_zone),
            (_("Letters about the care of your watches"), wanted),
        ),
    )


def _piece(
    piece: Piece, time: OwnTime | None, drop_offs: Sequence[DropOff], work: Sequence[Any], *, still: bool
) -> Part:
    own = [one for one in drop_offs if one.piece_id == piece.pk]
    found = happenings(piece, time, own, work) if time else []
    lines = [
        (day_written(one.on), said_of(one.what, details) if (details := _sentences(*one.details)) else one.what)
        for one in found
        if time and time.holds(one.on)
    ]
    facts = given(
        (_("Serial"), piece.serial),
        (_("Model"), f"{piece.model} ({piece.model.reference})" if piece.model else ""),
        (_("Sold new"), day_written(piece.sold_on) if still and piece.sold_on else ""),
        (_("Bought at"), str(piece.boutique or "") if still else ""),
    )
    title = str(piece.model) if piece.model else piece.serial
    if not still:
        title = _("%(watch)s, no longer yours") % {"watch": title}
    return Part(title, facts, lines)


def _grounds(owner: Owner) -> Part:
    lines = [
        (day_written(one.on), _sentences(str(LETTER_GROUNDS[one.ground]), quoted(one.wording)))
        for one in reversed(grounds_of(owner))
    ]
    return Part(_("Why we may write to you"), lines=lines)


def _letters(owner: Owner) -> Part:
    letters = letters_of(owner)
    reminders, wordings = reminders_of(letters), wordings_of(letters, language_of(owner))
    lines = []
    for one in letters:
        about = listed(
            f"{reminder.piece.serial} ({what(wordings[one.pk], reminder.service)})" for reminder in reminders[one.pk]
        )
        lines.append((day_written(one.planned_on), said_of(about or _about(one), sent_in_words(one))))
    return Part(_("Letters"), lines=lines)


def _about(letter: Letter) -> str:
    """What a letter is about that reminds of nothing."""
    if letter.sort == LetterSort.ORDER:
        return word_in_words(letter.order_word)
    if letter.sort == LetterSort.RECEIPT:
        return _("Receipt %(number)s") % {"number": letter.receipt.number}
    return _("Your visit")


def _answers(owner: Owner) -> Part:
    answers = Answer.objects.filter(owner=owner).select_related("piece", "boutique").order_by("pk")
    lines = [
        (
            day_written(one.said_on),
            ": ".join(
                text for text in (one.piece.serial if one.piece else "", answer_in_words(one, one.said_on)) if text
            ),
        )
        for one in answers
    ]
    return Part(_("Your answers"), lines=lines)


def _visits(owner: Owner) -> Part:
    visits = Visit.objects.filter(owner=owner).select_related("boutique").order_by("starts_at")
    return Part(_("Visits"), lines=[(day_written(one.changed_at), visit_kept_in_words(one)) for one in visits])


def _drop_offs(drop_offs: Sequence[DropOff]) -> Part:
    lines = [
        (
            day_written(one.taken_on),
            " · ".join(
                text
                for text in (one.number, one.piece.serial, str(one.boutique), one.left_with, one.owner_says)
                if text
            ),
        )
        for one in reversed(drop_offs)
    ]
    return Part(_("What you brought to us"), lines=lines)


def _requests(owner: Owner) -> Part:
    lines = []
    for one in reversed(requests_of(owner)):
        said = quoted(one.said) if one.said and one.kind in OWN_WORDS else ""
        told = (f"{REQUESTS[one.kind]}:", said, request_in_words(one), one.reason)
        lines.append((day_written(one.asked_on), _sentences(*told)))
    return Part(_("What you asked"), lines=lines)


def _email_changes(owner: Owner) -> Part:
    lines = [(day_written(one.asked_at), email_change_in_words(one)) for one in email_changes_of(owner)]
    return Part(_("E-mail addresses that you gave"), lines=lines)


def _changes(owner: Owner) -> Part:
    told = [(day_written(one.at), changes_in_words(one.before, one.after)) for one in changes_of(owner)]
    return Part(_("What was changed"), lines=[(day, said) for day, said in told if said])


def _sentences(*sentences: str) -> str:
    return one_after_another(translation.get_language() or FALLBACK, *sentences)
