"""Word to an owner about a visit of theirs. It goes to everyone, once for each change, as safely as any letter."""

from collections.abc import Sequence
from datetime import date, datetime, time
from uuid import UUID

from django.db import transaction

from service_center.book.models import Boutique, Owner
from service_center.book.wording import language_of
from service_center.letters.actions.ending import end_words
from service_center.letters.actions.receipts import is_reached
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.models import Confirmation, Letter
from service_center.letters.queries.overtaken import OF_VISIT
from service_center.letters.rules.addressing import one_address
from service_center.letters.rules.deciding import Reason
from service_center.letters.rules.words import LetterSort, LetterState, VisitNews

# What no change of the visit can end, and what may be handed over again: after a 4xx, or by the desk's word.
MAY_COME_BACK = (LetterState.AT_THE_DOT, LetterState.IN_DOUBT)


@transaction.atomic
def confirm_visit(
    news: VisitNews,
    *,
    owner: Owner,
    opens: Letter,
    visit: UUID,
    sequence: int,
    day: date,
    at: time,
    boutique: Boutique,
    pieces: Sequence[tuple[str, str]],
    entry: str,
    on: date,
    now: datetime,
) -> Letter | None:
    """Write the letter that confirms a change of a visit; the same change is told once. `on`: the owner's day.

    It goes at once. Earlier word about the same visit that has not gone out ends. None where no letter reaches the
    owner: whoever answers only at the counter, or whose address is stopped.
    """
    told = Confirmation.objects.filter(visit=visit, sequence=sequence).select_related("letter").first()
    if told:
        return told.letter
    earlier = Letter.objects.filter(confirmation__visit=visit)
    end_words(earlier, because=OF_VISIT)
    reached = is_reached(owner)
    # Word that reaches nobody is written down all the same where earlier word might follow it: the claim finds it.
    if not reached and not earlier.filter(state__in=MAY_COME_BACK).exists():
        return None
    letter = Letter.objects.create(
        owner=owner,
        sort=LetterSort.CONFIRMATION.value,
        language=language_of(owner),
        planned_on=on,
        not_before=now,
        state=(LetterState.WAITING if reached else LetterState.ENDED).value,
        reason="" if reached else (Reason.ADDRESS_STOPPED if one_address(owner.email) else Reason.NO_EMAIL).value,
    )
    Confirmation.objects.create(
        letter=letter,
        opens=opens,
        news=news.value,
        visit=visit,
        sequence=sequence,
        day=day,
        at=at,
        boutique=boutique,
        pieces=[list(piece) for piece in pieces],
        entry=entry,
    )
    if not reached:
        return None
    ring_after_commit()
    return letter
