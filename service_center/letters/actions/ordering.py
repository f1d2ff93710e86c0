"""Word to an owner about an order of theirs in the house. It goes to everyone, once for each piece of news."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction

from service_center.access.models import Staff
from service_center.book.models import Boutique, Owner, Piece
from service_center.letters.actions.ending import end_words
from service_center.letters.actions.receipts import is_reached
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.models import Letter, OrderWord, ReachedOtherwise
from service_center.letters.queries.overtaken import OF_ORDER
from service_center.letters.rules.words import Channel, LetterSort, LetterState, OrderNews


@dataclass(frozen=True, slots=True)
class Word:
    """One piece of news of an order. `key`: the estimate, or the move that made the piece ready; else as OrderWord."""

    news: OrderNews
    number: str
    key: int
    piece: Piece
    day: date
    boutique: Boutique
    total: str = ""
    paper: bytes = b""


def mail_order_word(owner: Owner, word: Word, *, language: str, on: date, now: datetime) -> Letter | None:
    """Write the letter that tells an owner of an order; the same news is written once. `on`: the owner's day.

    It goes at once. Earlier word of the order that has not gone out ends. None where no letter reaches the owner, who
    then stands on the desk's list: nothing was written.
    """
    if not is_reached(owner):
        return None
    letter = Letter(owner=owner, sort=LetterSort.ORDER.value, language=language, planned_on=on, not_before=now)
    return _keep(letter, word)


def note_order_word(
    owner: Owner, word: Word, channel: Channel, *, language: str, on: date, now: datetime, note: str, by: Staff
) -> Letter:
    """Write down that an owner was told by telephone or on paper; no letter tells them the same again.

    One that was written and reached nobody (it ended, or was refused) counts as told then.
    """
    letter = Letter(
        owner=owner,
        sort=LetterSort.ORDER.value,
        channel=channel.value,
        language=language,
        planned_on=on,
        not_before=now,
        state=LetterState.SENT.value,
        sent_at=now,
        reason=f"reached by {channel.value}",
    )
    kept = _keep(letter, word)
    if kept.pk != letter.pk and kept.state in (LetterState.ENDED, LetterState.REFUSED):
        kept.state, kept.channel, kept.sent_at, kept.reason = letter.state, letter.channel, now, letter.reason
        kept.save(update_fields=["state", "channel", "sent_at", "reason"])
    elif kept.pk != letter.pk:
        return kept
    if not ReachedOtherwise.objects.filter(letter=kept).exists():
        ReachedOtherwise.objects.create(letter=kept, channel=channel.value, on=on, note=note, recorded_by=by)
    return kept


def end_order_words(number: str) -> int:
    """End what is written of an order and has not gone out: it is no longer so. How many ended."""
    return end_words(Letter.objects.filter(order_word__number=number), because=OF_ORDER)


def _keep(letter: Letter, word: Word) -> Letter:
    told = OrderWord.objects.filter(number=word.number, news=word.news.value, key=word.key).select_related("letter")
    if before := told.first():
        return before.letter
    try:
        with transaction.atomic():
            end_order_words(word.number)
            letter.save()
            OrderWord.objects.create(
                letter=letter,
                news=word.news.value,
                number=word.number,
                key=word.key,
                piece=word.piece,
                name=str(word.piece.model) if word.piece.model else word.piece.serial,
                serial=word.piece.serial,
                day=word.day,
                boutique=word.boutique,
                total=word.total,
                paper=word.paper,
            )
            ring_after_commit()
    except IntegrityError:  # somebody was first; if it was anything else there is no such row
        return told.get().letter
    return letter
