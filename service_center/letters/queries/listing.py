"""Letters for people and programs: lists in pages, counts that stop in time, one letter with all that is known."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from service_center.access.models import Trail
from service_center.letters.models import Answer, Confirmation, Letter, MailedReceipt, OrderWord, Reminder
from service_center.letters.rules.words import LetterSort, LetterState

LETTERS_A_BATCH = 1_000
PAGE = 50
# A count is exact up to here and "more than" beyond: counting costs more than the page it stands on.
COUNTED_UP_TO = 10_000


def letter_records(state: LetterState | None) -> Iterator[dict[str, Any]]:
    """Every letter, by id, as outside.md says. Two statements a thousand letters.

    A letter carries reminders (design/letters.md, words): word about a visit does not, and is no part of what programs
    check the pause and the limits by.
    """
    last = 0
    while True:
        rows = Letter.objects.filter(pk__gt=last, sort=LetterSort.INVITATION).order_by("pk").select_related("owner")
        batch = list((rows.filter(state=state) if state else rows)[:LETTERS_A_BATCH])
        if not batch:
            return
        reminders = reminders_of(batch)
        yield from (_record(letter, reminders[letter.pk]) for letter in batch)
        last = batch[-1].pk


def reminders_of(letters: Sequence[Letter]) -> dict[int, list[Reminder]]:
    """The reminders of some letters, by serial and kind: those that live; all of them where the letter ended."""
    found: dict[int, list[Reminder]] = defaultdict(list)
    alive = Q(ended_on=None) | Q(letter__state=LetterState.ENDED)
    rows = Reminder.objects.filter(alive, letter__in=[letter.pk for letter in letters])
    for row in rows.select_related("piece").order_by("piece__serial", "kind", "starts_on", "step"):
        found[row.letter_id].append(row)
    return found


def _record(letter: Letter, reminders: Sequence[Reminder]) -> dict[str, Any]:
    return {
        "letter": letter.pk,
        "owner": letter.owner.code,
        "state": letter.state,
        "message_id": letter.message_id,
        "planned_on": letter.planned_on.isoformat(),
        "sent_at": letter.sent_at.isoformat() if letter.sent_at else None,
        "reminders": [
            {
                "serial": one.piece.serial,
                "kind": one.kind,
                "starts_on": one.starts_on.isoformat(),
                "step": one.step,
            }
            for one in reminders
        ],
    }


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a page of letters begins: after the letter of that day and id, newest first."""

    planned_on: date
    letter: int

    @classmethod
    def from_text(cls, text: str) -> "Cursor | None":
        """From "2026-11-25.42"; None for anything else."""
        day, dot, letter = text.partition(".")
        if not (dot and letter.isascii() and letter.isdigit() and len(letter) < 19):
            return None
        try:
            return cls(date.fromisoformat(day), int(letter))
        except ValueError:
            return None

    def __str__(self) -> str:
        return f"{self.planned_on.isoformat()}.{self.letter}"


@dataclass(frozen=True, slots=True)
class LetterRow:
    """One letter in the desk's list."""

    letter: Letter
    reminders: Sequence[Reminder]


@dataclass(frozen=True, slots=True)
class LetterPage:
    """One page; `next` is None on the last."""

    rows: Sequence[LetterRow]
    next: Cursor | None


def letters_page(state: LetterState | None, after: Cursor | None) -> LetterPage:
    """A page of letters, newest first. Two statements, by index, wherever the page stands."""
    rows = (
        Letter.objects.select_related("owner", "order_word").defer("order_word__paper").order_by("-planned_on", "-pk")
    )
    if state:
        rows = rows.filter(state=state)
    if after:
        rows = rows.filter(
            Q(planned_on__lt=after.planned_on) | Q(pk__lt=after.letter), planned_on__lte=after.planned_on
        )
    found = list(rows[: PAGE + 1])
    page, more = found[:PAGE], len(found) > PAGE
    reminders = reminders_of(page)
    last = Cursor(page[-1].planned_on, page[-1].pk) if more else None
    return LetterPage([LetterRow(letter, reminders[letter.pk]) for letter in page], last)


def counts_by_state() -> dict[LetterState, int]:
    """How many letters are in each state, counted no further than just beyond COUNTED_UP_TO. Eight statements."""
    return {
        state: Letter.objects.filter(state=state).order_by()[: COUNTED_UP_TO + 1].aggregate(n=Count("pk"))["n"]
        for state in LetterState
    }


def to_see_to(state: LetterState) -> QuerySet[Letter]:
    """Letters of a state that need a person: a refused one does as long as there is something to say."""
    letters = Letter.objects.filter(state=state).order_by()
    if state is not LetterState.REFUSED:
        return letters
    living = Reminder.objects.filter(letter=OuterRef("pk"), ended_on=None)
    return letters.filter(~Q(sort=LetterSort.INVITATION) | Exists(living))


def all_reminders_of(letter: Letter) -> list[Reminder]:
    """Every reminder of one letter, those that ended too."""
    return list(letter.reminders.select_related("piece__model").order_by("piece__serial", "kind", "step"))


def confirmation_of(letter: Letter) -> Confirmation | None:
    """What a confirmation tells of a visit; None of an invitation."""
    return Confirmation.objects.filter(letter=letter).select_related("boutique").first()


def receipt_of(letter: Letter) -> MailedReceipt | None:
    """What a letter with a receipt tells; None of any other."""
    return MailedReceipt.objects.filter(letter=letter).select_related("boutique").defer("paper").first()


def order_word_of(letter: Letter) -> OrderWord | None:
    """What a letter tells of an order; None of any other."""
    return OrderWord.objects.filter(letter=letter).select_related("boutique").defer("paper").first()


def answers_to(letter: Letter) -> list[Answer]:
    """What the owner answered to one letter, in the order in which it was said."""
    return list(letter.answers.select_related("piece", "boutique").order_by("pk"))


def trail_of(letter: Letter) -> list[Trail]:
    """What staff decided about one letter, in order."""
    return list(Trail.objects.filter(subject=f"letter:{letter.pk}").select_related("by").order_by("pk"))
