"""What the desk reads of what owners ask."""

from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.access.models import Trail
from service_center.book.countries import name_of_country
from service_center.book.wording import name_of_language
from service_center.letters.desk.words import GROUNDS as LETTER_GROUNDS
from service_center.letters.desk.words import KINDS as SERVICES
from service_center.letters.desk.words import STATES as LETTER_STATES
from service_center.letters.desk.words import STEPS
from service_center.letters.models import Letter
from service_center.letters.rules.words import LetterSort, LetterState, Step
from service_center.owner_pages.erasure import Obstacle
from service_center.owner_pages.models import OwnerRequest
from service_center.owner_pages.rules import NoticeKind, RequestKind, RequestState

Words = dict[str, str | Promise]

KINDS: Words = {
    RequestKind.COPY: _("Took a copy of their data"),
    RequestKind.DETAILS: _("Corrected their particulars"),
    RequestKind.NAME: _("Wants their name written otherwise"),
    RequestKind.CORRECTION: _("Asks for a correction"),
    RequestKind.ERASURE: _("Asks for erasure"),
}
STATES: Words = {
    RequestState.OPEN: _("Open"),
    RequestState.DONE: _("Done"),
    RequestState.DECLINED: _("Declined"),
}
# Which of the marks of the style sheet stands beside the word.
MARKS: Words = {RequestState.OPEN: "waiting", RequestState.DONE: "done", RequestState.DECLINED: "ended"}
TO_DECIDE: Words = {
    RequestKind.NAME: _(
        "Is it the same person, and only the spelling that is wrong? Look at a receipt or the guarantee card, or "
        "telephone. A watch that changed hands is not a spelling. With Done the new name is written into the book."
    ),
    RequestKind.CORRECTION: _("Correct what is wrong in the book first; then tell the owner here what you corrected."),
    RequestKind.ERASURE: _(
        "Letters to this owner have stopped already; nothing else was erased. Records of work, guarantee and papers "
        "stay as long as the law or open claims need them (GDPR, Art. 17(3)). Decide with whoever answers for data "
        "protection in your house. Tell the owner first, for their links close with it: then a manager erases their "
        "data on the owner's page, which says what goes and what stays."
    ),
}
NOTICES: Words = {
    NoticeKind.CONFIRM: _("Mail to the new address, with the link"),
    NoticeKind.TELL_BEFORE: _("Mail to the address before"),
}
NOTICE_STATES: Words = {
    LetterState.WAITING: _("Waiting"),
    LetterState.HANDING_OVER: _("Handing over"),
    LetterState.AT_THE_DOT: _("At the dot"),
    LetterState.SENT: _("Sent"),
    LetterState.IN_DOUBT: _("In doubt: the owner can ask again"),
    LetterState.REFUSED: _("Refused"),
    LetterState.HELD: _("Held"),
    LetterState.ENDED: _("Ended, not sent"),
}
OBSTACLES: Words = {
    Obstacle.ERASED: _("This owner's data were erased before."),
    Obstacle.PIECE_HERE: _("A watch of theirs is in the house: hand it back first."),
    Obstacle.STARTED: _("A drop-off of a watch of theirs is started: finish it or give it up first."),
    Obstacle.VISIT: _("A visit is booked: it must be over, or cancelled, first."),
    Obstacle.LETTER_IN_HAND: _("A letter to them is being handed over or is in doubt: settle it first."),
    Obstacle.JOURNAL: _("The disk did not take the erasure's line in the journal: make room on it, and try again."),
}
# The trail's words for what owners do themselves, and for what is decided here.
DEEDS: Words = {
    "owner_corrects": _("Corrected by the owner"),
    "desk_corrects": _("Corrected by the desk"),
    "email_asked": _("Gave another e-mail address"),
    "email_withdrawn": _("Left the e-mail address as it was"),
    "email_confirmed": _("Confirmed the new e-mail address"),
    "letters_again": _("Wants letters again"),
    "asks_copy": KINDS[RequestKind.COPY],
    "asks_name": KINDS[RequestKind.NAME],
    "asks_correction": KINDS[RequestKind.CORRECTION],
    "asks_erasure": KINDS[RequestKind.ERASURE],
    "owner_erased": _("Erased the owner's data"),
    "letter_ground": _("Ground for letters, by the desk"),
    "decides_name": _("Decided about the name"),
    "decides_correction": _("Decided about the correction"),
    "decides_erasure": _("Decided about erasure"),
}
FIELDS: Words = {
    "name": _("name"),
    "email": _("e-mail"),
    "phone": _("telephone"),
    "postal_address": _("postal address"),
    "country": _("country"),
    "language": _("language"),
    "time_zone": _("time zone"),
    "letters": _("letters"),
    "ground": _("ground"),
    "said": _("said"),
    "state": _("state"),
}
GROUNDS: Words = {ground.value: word for ground, word in LETTER_GROUNDS.items()}
LETTER_SORTS: Words = {
    LetterSort.CONFIRMATION: _("word about a visit"),
    LetterSort.RECEIPT: _("a receipt"),
    LetterSort.ORDER: _("word about an order"),
}
YES_NO: dict[bool, str | Promise] = {True: _("yes"), False: _("no")}


def request_row(one: OwnerRequest) -> dict[str, Any]:
    """A request in words. What an owner corrected is named by its fields."""
    said = one.said
    if one.kind == RequestKind.DETAILS:
        said = ", ".join(str(FIELDS.get(field, field)) for field in said.split(", "))
    return {"one": one, "kind": KINDS[one.kind], "state": STATES[one.state], "mark": MARKS[one.state], "said": said}


def letter_row(one: Letter) -> dict[str, Any]:
    """A letter in words: its state, and what it is about, piece by piece. Its reminders were read with it."""
    reminders = sorted(one.reminders.all(), key=lambda row: (row.piece.serial, row.kind))
    pieces = [f"{row.piece.serial}: {SERVICES[row.service]}, {STEPS[Step(row.step)]}" for row in reminders]
    state = LETTER_STATES[LetterState(one.state)]
    return {"one": one, "state": state, "about": "; ".join(pieces) or LETTER_SORTS.get(one.sort, "")}


def told(one: Trail) -> dict[str, Any]:
    """A row of the trail in words, with what it changed."""
    return {"one": one, "deed": DEEDS.get(one.deed, one.deed), "changes": _changes(one.before or {}, one.after or {})}


def _changes(before: dict[str, Any], after: dict[str, Any]) -> list[dict[str, Any]]:
    fields = [one for one in {**before, **after} if one in FIELDS]
    return [{"field": FIELDS[one], "before": _said(before, one), "after": _said(after, one)} for one in fields]


def _said(values: dict[str, Any], field: str) -> str | Promise:
    value = values.get(field)
    if isinstance(value, str):
        if field == "country":
            return name_of_country(value)
        if field == "language":
            return name_of_language(value)
        known: Words = STATES if field == "state" else GROUNDS if field == "ground" else {}
        return known.get(value, value)
    if isinstance(value, bool):
        return YES_NO[value]
    return "" if value is None else value
