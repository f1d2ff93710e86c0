"""Finding a letter by the secret in its link."""

from datetime import datetime

from service_center.letters.models import Letter, OwnerLink
from service_center.letters.rules.links import hash_token
from service_center.letters.rules.words import LinkPurpose


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
    """Whether a link of a letter opens something still. One statement."""
    return OwnerLink.objects.filter(letter=letter, expires_at__gt=now, withdrawn_at=None).exists()
