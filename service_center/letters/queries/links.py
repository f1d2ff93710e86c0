"""Finding a letter by the secret in its link."""

from datetime import datetime

from django.db.models import QuerySet

from service_center.letters.models import Confirmation, Letter, OwnerLink
from service_center.letters.rules.links import hash_token
from service_center.letters.rules.words import LetterSort, LinkPurpose


def letter_for_token(token: str, purpose: LinkPurpose, now: datetime) -> Letter | None:
    """The letter that a secret opens for a purpose; unknown, ended and withdrawn look alike. One statement, by index."""
    link = (
        OwnerLink.objects.filter(
            token_hash=hash_token(purpose, token), purpose=purpose.value, expires_at__gt=now, withdrawn_at=None
        )
        .select_related("letter__owner")
        .first()
    )
    return link.letter if link else None


def links_open(letter: Letter, now: datetime) -> bool:
    """Whether a link of a letter opens something still. One statement, two of word about a visit."""
    return links_of(letter).filter(expires_at__gt=now, withdrawn_at=None).exists()


def links_of(letter: Letter) -> QuerySet[OwnerLink]:
    """The secrets in a letter. Word about a visit has one of the letter's whose page it opens, and is that page's."""
    pages = [letter.pk]
    if letter.sort == LetterSort.CONFIRMATION:
        pages += Confirmation.objects.filter(letter=letter).values_list("opens", flat=True)
    return OwnerLink.objects.filter(letter__in=pages)
