"""A doubt that is settled by the letter itself: whoever presses a button behind its link has it (reliability.md, B2)."""

from django.db.models import Exists, F, OuterRef

from service_center.letters.models import Letter, OwnerLink
from service_center.letters.rules.links import hash_token
from service_center.letters.rules.words import LetterState, LinkPurpose

BY_ITS_LINK = "settled by its own link"


def link_was_used(letter: Letter, token: str, purpose: LinkPurpose) -> bool:
    """Take a letter in doubt as sent, since its secret came back to us. Whether that settled it.

    Word of a visit opens the page of an earlier letter by a secret of its own, which proves nothing of that one: what
    counts was in the letter when it was at the dot.
    """
    if letter.state != LetterState.IN_DOUBT:
        return False
    in_it = OwnerLink.objects.filter(
        letter=OuterRef("pk"), token_hash=hash_token(purpose, token), made_at__lte=OuterRef("dot_at")
    )
    doubtful = Letter.objects.filter(Exists(in_it), pk=letter.pk, state=LetterState.IN_DOUBT)
    return bool(doubtful.update(state=LetterState.SENT, sent_at=F("dot_at"), reason=BY_ITS_LINK, lease_until=None))
