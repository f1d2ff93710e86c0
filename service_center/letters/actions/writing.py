"""Writing letters that were decided: the letter and its reminders in one transaction, each key once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from service_center.book.wording import language_of
from service_center.letters.models import Letter, Reminder, Round
from service_center.letters.queries.rounds import OwnerBeforeRound
from service_center.letters.rules.deciding import Decision
from service_center.letters.rules.mornings import morning_of
from service_center.letters.rules.steps import Planned
from service_center.letters.rules.unusual import BY_ROUND
from service_center.letters.rules.words import LetterState

Key = tuple[int, str, date, str, int]


@dataclass(frozen=True, slots=True)
class Wrote:
    """How many reminders and letters were written; one that joined a letter that waited is no letter."""

    reminders: int = 0
    letters: int = 0


def write_letters(chosen: Sequence[tuple[OwnerBeforeRound, Decision]], as_of: date, of: Round) -> Wrote:
    """Write the letters of some owners, held until their round is let go. In the caller's transaction."""
    letters = _letters_for(chosen, as_of, of)
    wanted = [
        (letter, planned)
        for (_before, decision), letter in zip(chosen, letters, strict=True)
        if letter is not None
        for planned in decision.reminders
    ]
    if not wanted:
        return Wrote()
    put_into(wanted)
    in_letters = Reminder.objects.filter(letter__in=[letter for letter, _planned in wanted], ended_on=None)
    keys = {_key(planned) for _letter, planned in wanted}
    written = [row for row in in_letters if _key_of(row) in keys]
    carrying = {row.letter_id for row in written}
    fresh = [
        letter
        for (_before, decision), letter in zip(chosen, letters, strict=True)
        if letter is not None and decision.joins is None
    ]
    # A reminder that somebody else wrote first (a piece changed hands meanwhile) leaves this letter empty.
    if empty := [letter.pk for letter in fresh if letter.pk not in carrying]:
        Letter.objects.filter(pk__in=empty).delete()
    return Wrote(len(written), sum(1 for letter in fresh if letter.pk in carrying))


def _letters_for(chosen: Iterable[tuple[OwnerBeforeRound, Decision]], as_of: date, of: Round) -> list[Letter | None]:
    """A letter for each decision: a new one, or the one it joins. None where that has left the queue meanwhile."""
    letters: list[Letter | None] = []
    fresh: list[Letter] = []
    for before, decision in chosen:
        if decision.joins is not None:
            letters.append(_still_waiting(decision.joins))
            continue
        letter = Letter(
            owner=before.owner,
            round=of,
            language=language_of(before.owner),
            planned_on=as_of,
            state=LetterState.HELD.value,
            reason=BY_ROUND,
            not_before=morning_of(as_of, before.zone),
        )
        fresh.append(letter)
        letters.append(letter)
    Letter.objects.bulk_create(fresh)
    return letters


def _still_waiting(letter: int) -> Letter | None:
    """The letter, with its row held so that no sender claims it before the reminders are in."""
    return (
        Letter.objects.filter(pk=letter, state=LetterState.WAITING.value, attempt=0)
        .select_for_update(no_key=True)
        .first()
    )


def put_into(wanted: Sequence[tuple[Letter, Planned]]) -> None:
    """Write the reminders. One that ended before it went out is taken up again; one that lives stays where it is."""
    ended: dict[Key, Reminder] = {
        _key_of(row): row
        for row in Reminder.objects.filter(
            piece__in={planned.service.piece for _letter, planned in wanted}, ended_on__isnull=False
        )
    }
    new = []
    for letter, planned in wanted:
        before = ended.get(_key(planned))
        if before is None:
            new.append(
                Reminder(
                    piece_id=planned.service.piece,
                    kind=planned.service.kind.value,
                    starts_on=planned.starts_on,
                    step=planned.step.value,
                    year=planned.year,
                    letter=letter,
                    due_on=planned.service.due_on,
                )
            )
        else:
            Reminder.objects.filter(pk=before.pk, ended_on__isnull=False).update(
                letter=letter, due_on=planned.service.due_on, ended_on=None, ended_because=""
            )
    Reminder.objects.bulk_create(new, ignore_conflicts=True)


def _key(planned: Planned) -> Key:
    service = planned.service
    return service.piece, service.kind.value, planned.starts_on, planned.step.value, planned.year


def _key_of(row: Reminder) -> Key:
    return row.piece_id, row.kind, row.starts_on, row.step, row.year
