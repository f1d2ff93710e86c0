"""Secrets in letters: what is stored of them. A plain hash is enough for 256 random bits (ASVS 5.0, 11.5.1)."""

import hashlib
from datetime import timedelta

from service_center.letters.rules.words import LinkPurpose

SECRET_BYTES = 32
LINKS_LAST = timedelta(days=400)


def hash_token(purpose: LinkPurpose, token: str) -> str:
    """SHA-256 of "purpose|token", hex. The purpose is inside: a secret made for one thing opens nothing else."""
    return hashlib.sha256(f"{purpose.value}|{token}".encode()).hexdigest()
