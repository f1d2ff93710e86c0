"""One address a letter, headers that cannot be broken out of, and a Message-ID that belongs to the letter."""

import re
import unicodedata
from email.utils import getaddresses
from functools import lru_cache

from service_center.letters.rules.return_path import mac

# Control characters, line and paragraph separators, halves of characters, private ones.
BREAKS = {"Cc", "Zl", "Zp", "Cs", "Co", "Cn"}
# Written in ASCII a domain may hold signs that were wide ones before (RFC 3490, 3.1): a comma, another @, an end.
HOST = re.compile(r"[A-Za-z0-9_.-]+")


@lru_cache(maxsize=10_000)
def one_address(text: str) -> str | None:
    """The address, where a text is exactly one of plain ASCII local part; None otherwise.

    Two addresses, a display name, a line break or a control character: none of them is handed to a mail server.
    """
    address = text.strip()
    if not address.isprintable() or any(char in address for char in ' \t<>(),;:"[]\\'):
        return None
    local, at, domain = address.rpartition("@")
    if not (at and local and domain and local.isascii()) or getaddresses([address]) != [("", address)]:
        return None
    try:
        host = domain.encode("idna").decode("ascii")
    except UnicodeError:
        return None
    return f"{local}@{host}" if HOST.fullmatch(host) and len(local) <= 64 and len(host) <= 253 else None


@lru_cache(maxsize=4096)
def one_line(text: str) -> str:
    """A text from a record as a header may carry it: no line breaks, no control characters, no doubled spaces."""
    # Nearly every record: nothing to look at letter by letter. The two spaces are French, and stay.
    if "  " not in text and text.replace("\u202f", "").replace("\xa0", "").isprintable():
        return text.strip()
    plain = "".join(" " if unicodedata.category(char) in BREAKS else char for char in text)
    return re.sub(" {2,}", " ", plain).strip()


def message_id(letter: int, *, secret: str, domain: str) -> str:
    """`<letter.ID.MAC@domain>` (RFC 5322, 3.6.4): the same for every copy of a letter, and nobody else can make one."""
    return f"<letter.{letter}.{mac('letter', letter, secret)}@{domain}>"
