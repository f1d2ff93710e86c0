"""Room for a letter that went out before a restore: its number and its day may be another's by now.

A round that ran since the backup was brought back gives numbers that letters of the lost days had, and writes letters
that owners have in their hands. Message-ID and return path are made of the number, so that what comes back about a
letter must find it there and nobody else's; and an owner has one letter a day.
"""

from typing import Any

from django.core.management.color import no_style
from django.db import connection
from django.db.models import Model

from service_center.letters.models import Letter, Reminder
from service_center.letters.rules.journal import Going
from service_center.letters.rules.restored import AFTER_RESTORE
from service_center.letters.rules.words import Channel, LetterSort, LetterState

NOT_IN_IT = "not in the letter that went out before the restore"
NOT_OUT = (LetterState.WAITING, LetterState.HANDING_OVER, LetterState.HELD)


def free_the_day(going: Going, *, owner: int) -> bool:
    """End the letter that was written since for the owner and day of one that went out before. Reminders that were in
    both stay for that one to take; the others come again. False where it may be out itself: nothing is changed then."""
    if going.sort != LetterSort.INVITATION:
        return True
    same = Letter.objects.filter(owner=owner, planned_on=going.planned_on, sort=LetterSort.INVITATION)
    again = same.exclude(pk=going.letter).exclude(state=LetterState.ENDED).first()
    if again is None:
        return True
    # A sender may have it by now: one that got to the dot meanwhile may be out.
    not_out = same.filter(pk=again.pk, state__in=[*NOT_OUT, LetterState.REFUSED])
    if not not_out.update(state=LetterState.ENDED, lease_until=None, reason=AFTER_RESTORE):
        return False
    serials = {(one.serial, one.kind, one.starts_on, one.step, one.year) for one in going.reminders}
    living = Reminder.objects.filter(letter=again, ended_on=None).select_related("piece")
    others = [
        one.pk for one in living if (one.piece.serial, one.kind, one.starts_on, one.step, one.year) not in serials
    ]
    Reminder.objects.filter(pk__in=others).update(ended_on=going.planned_on, ended_because=NOT_IN_IT)
    return True


def free_the_number(letter: Letter) -> bool:
    """Give a letter that nobody has seen another number. False where somebody may have: it keeps its own then."""
    unseen = letter.sort == LetterSort.INVITATION and letter.channel == Channel.MAIL
    if not unseen or letter.state not in (*NOT_OUT, LetterState.ENDED):
        return False
    if letter.attempt or letter.message_id or any(_name(letter, model) for model in _naming()):
        return False
    state, number = letter.state, letter.pk
    # Its day is its own again when the row that bears its number is gone. A sender that took it meanwhile was first.
    if not Letter.objects.filter(pk=number, state=state, attempt=0).update(state=LetterState.ENDED):
        return False
    numbers_beyond_what_is_known()
    letter.pk, letter.state = None, state
    letter.save(force_insert=True)
    Reminder.objects.filter(letter=number).update(letter=letter)
    Letter.objects.filter(pk=number).delete()
    return True


def numbers_beyond_what_is_known() -> None:
    """New letters get numbers beyond those that the journal brought back. SQLite sees to it by itself."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), [Letter]):
            cursor.execute(statement)


def _naming() -> list[tuple[type[Model], str]]:
    """Every table that names letters, but that of reminders, which travel with theirs."""
    related: list[Any] = list(Letter._meta.related_objects)  # noqa: SLF001  # Django's own documented interface
    return [(one.related_model, one.field.name) for one in related if one.related_model is not Reminder]


def _name(letter: Letter, naming: tuple[type[Model], str]) -> bool:
    model, field = naming
    return bool(model._default_manager.filter(**{field: letter}).exists())  # noqa: SLF001
