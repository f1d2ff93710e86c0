"""Letters about a piece, and what its owner answered."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from django.utils import timezone
from django.utils.translation import gettext as _

from service_center.book.models import Piece
from service_center.letters.models import Answer, Letter, Reminder
from service_center.letters.rules.words import LetterState
from service_center.pieces.timeline.moment import Moment, Sort, day_in_words
from service_center.pieces.wording import ANSWERS, LETTER_STATES, SERVICE_KINDS, STEPS

LETTERS = frozenset({Sort.LETTERS})


def letters_and_answers(piece: Piece, as_of: date) -> Iterator[Moment]:
    """One moment a letter, whatever it carries about the piece, and one an answer. Two statements."""
    answers = list(Answer.objects.filter(piece=piece).select_related("boutique").order_by("pk"))
    said: dict[int, Answer] = {
        answer.letter_id: answer for answer in answers if answer.letter_id and answer.said_on <= as_of
    }
    carried: dict[tuple[int, date | None], list[Reminder]] = defaultdict(list)
    for reminder in Reminder.objects.filter(piece=piece).select_related("letter").order_by("pk"):
        carried[reminder.letter_id, reminder.ended_on].append(reminder)
    for reminders in carried.values():
        yield _letter(reminders, said.get(reminders[0].letter_id))
    for answer in answers:
        yield Moment(
            answer.said_on,
            8,
            _("Answer: %(answer)s") % {"answer": str(ANSWERS[answer.choice]).lower()},
            LETTERS,
            details=[one for one in (_until(answer), str(answer.boutique or "")) if one],
        )


def _letter(reminders: list[Reminder], answer: Answer | None) -> Moment:
    first = reminders[0]
    letter, ended = first.letter, first.ended_on
    state = LetterState.ENDED.value if ended else letter.state
    what = " · ".join(
        _("%(step)s, %(kind)s") % {"step": STEPS.get(one.step, one.step), "kind": str(SERVICE_KINDS[one.kind]).lower()}
        for one in reminders
    )
    return Moment(
        timezone.localdate(letter.sent_at) if letter.sent_at else ended or letter.planned_on,
        7,
        _("Letter: %(what)s") % {"what": f"{what[:1].lower()}{what[1:]}"},
        LETTERS,
        details=list(_said_of(letter, first, answer)),
        state=state,
        state_name=str(LETTER_STATES[state]),
        letter=letter.pk,
    )


def _said_of(letter: Letter, reminder: Reminder, answer: Answer | None) -> Iterator[str]:
    if letter.sent_at:
        sent = timezone.localtime(letter.sent_at)
        yield _("sent on %(day)s at %(time)s") % {"day": day_in_words(sent.date()), "time": f"{sent:%H:%M}"}
    elif not reminder.ended_on:
        yield _("planned for %(day)s") % {"day": day_in_words(letter.planned_on)}
    if reminder.ended_because:
        yield reminder.ended_because
    if answer:
        yield _("answered on %(day)s: %(answer)s") % {
            "day": day_in_words(answer.said_on),
            "answer": str(ANSWERS[answer.choice]).lower(),
        }


def _until(answer: Answer) -> str:
    return day_in_words(answer.day) if answer.day else ""
