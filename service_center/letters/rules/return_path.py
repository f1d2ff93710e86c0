"""Where a letter that comes back is sent: an address that names the letter, and that nobody else can make.

Variable envelope return paths: the sender of the envelope (RFC 5321, 4.5.5) is of each letter its own, while the From
that people see stays the house's.
"""

import hmac
import re
from collections.abc import Sequence

MAC_DIGITS = 24
# In a return path, and in the letter's Message-ID, which is quoted by reports that lost the return path.
NAMED = re.compile(rf"\b(bounce\+|letter\.)(\d{{1,18}})\.([0-9a-f]{{{MAC_DIGITS}}})(?![0-9a-z])", re.IGNORECASE)
PURPOSE = {"bounce+": "bounce", "letter.": "letter"}


def mac(purpose: str, letter: int, secret: str) -> str:
    """24 hexadecimal digits (96 bits) that only who has the secret can make for this letter and purpose."""
    return hmac.digest(secret.encode(), f"{purpose}|{letter}".encode(), "sha256").hex()[:MAC_DIGITS]


def return_path(letter: int, *, secret: str, domain: str) -> str:
    """`bounce+ID.MAC@domain`. At most 50 characters before the @, of the 64 that RFC 5321, 4.5.3.1.1 allows."""
    return f"bounce+{letter}.{mac('bounce', letter, secret)}@{domain}"


def stop_address(domain: str) -> str:
    """Where a mail program writes for whoever wants no more letters: read with the reports that come back."""
    return f"bounce+stop@{domain}"


def stop_subject(message_id: str) -> str:
    """What it writes there: a subject that names the letter, and that nobody else can make."""
    return f"stop {message_id.strip('<>').split('@')[0]}"


def letter_to_stop(subject: str, *, secrets: Sequence[str]) -> int | None:
    """The letter whose owner wants no more of them, where a subject says so and nothing else."""
    word, _blank, name = " ".join(subject.split()).partition(" ")
    if word.lower() != "stop" or not NAMED.fullmatch(name):
        return None
    return letter_named_in(name, secrets=secrets)


def letter_named_in(text: str, *, secrets: Sequence[str]) -> int | None:
    """The first letter that a text truly names, by its return path or its Message-ID; forged ones are passed over.

    `secrets`: the present one, and earlier ones for letters that went out before it was changed.
    """
    for found in NAMED.finditer(text):
        letter = int(found[2])
        purpose = PURPOSE[found[1].lower()]
        if any(hmac.compare_digest(mac(purpose, letter, secret), found[3].lower()) for secret in secrets):
            return letter
    return None
