"""What a cell may hold, and the text under which the book stores it.

A cell's `read` takes the text of a cell that is not empty and returns what is stored, or raises ValueError
with the reason. `empty` is what an empty cell (not known) is stored as.
"""

import re
import zoneinfo
from dataclasses import dataclass
from datetime import date
from typing import ClassVar, Protocol

from email_validator import EmailNotValidError, validate_email

from service_center.exchange.rules.faults import quoted

FIRST_DAY = date(1800, 1, 1)
LAST_DAY = date(2199, 12, 31)

_WHOLE = re.compile(r"-?[0-9]{1,18}")
_NUMBER = re.compile(r"-?[0-9]{1,15}(\.[0-9]+)?")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_COUNTRY = re.compile(r"[A-Z]{2}")
# BCP 47 (RFC 5646), its general shape: a language of letters, then subtags of letters and digits.
_LANGUAGE = re.compile(r"[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*")
# A plain address (RFC 5321, 4.1.2, dot-string and domain); anything else is asked of the library.
_ATOM = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+"
_LABEL = r"[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?"
_PLAIN_ADDRESS = re.compile(rf"{_ATOM}(?:\.{_ATOM})*@(?:{_LABEL}\.)+[A-Za-z](?:[A-Za-z0-9-]{{0,61}}[A-Za-z0-9])")


class Cell(Protocol):
    """One kind of cell whose every text is read by itself."""

    @property
    def empty(self) -> str | None: ...

    def read(self, text: str) -> str: ...


@dataclass(frozen=True, slots=True)
class Text:
    """Free text, kept as it is written. `lines`: line breaks and tabs may stand in it. `edges`: spaces may be at its ends."""

    limit: int
    lines: bool = False
    edges: bool = True
    telephone: bool = False


def code(limit: int = 64) -> Text:
    """A key: one line, no space at either end, since nobody sees it there."""
    return Text(limit, edges=False)


@dataclass(frozen=True, slots=True)
class Word:
    """One of a few words."""

    words: tuple[str, ...]
    empty: ClassVar[str | None] = ""

    def read(self, text: str) -> str:
        """The word itself."""
        if text not in self.words:
            raise ValueError(f"{quoted(text)} is not one of {', '.join(self.words)}")
        return text


@dataclass(frozen=True, slots=True)
class YesNo:
    """`yes` or `no`, stored as 1 and 0, which both databases read as true and false."""

    empty: ClassVar[str | None] = None

    def read(self, text: str) -> str:
        """1 or 0."""
        if text not in {"yes", "no"}:
            raise ValueError(f"{quoted(text)} is not yes or no")
        return "1" if text == "yes" else "0"


@dataclass(frozen=True, slots=True)
class Day:
    """A calendar day (ISO 8601) from 1800 to 2199."""

    empty: ClassVar[str | None] = None

    def read(self, text: str) -> str:
        """The day as YYYY-MM-DD."""
        try:
            day = date.fromisoformat(text) if _DAY.fullmatch(text) else None
        except ValueError:
            day = None
        if day is None:
            raise ValueError(f"{quoted(text)} is not a date (YYYY-MM-DD)")
        if not FIRST_DAY <= day <= LAST_DAY:
            raise ValueError(f"{quoted(text)} is not between {FIRST_DAY} and {LAST_DAY}")
        return text


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number between two bounds, both included."""

    low: int
    high: int
    empty: ClassVar[str | None] = None

    def read(self, text: str) -> str:
        """The number's digits."""
        if not _WHOLE.fullmatch(text):
            raise ValueError(f"{quoted(text)} is not a whole number from {self.low} to {self.high}")
        if not self.low <= int(text) <= self.high:
            raise ValueError(f"{quoted(text)} is not between {self.low} and {self.high}")
        return text


@dataclass(frozen=True, slots=True)
class Number:
    """A decimal number with a point and at most two places, between two bounds, both included."""

    low: float
    high: float
    empty: ClassVar[str | None] = None

    def read(self, text: str) -> str:
        """The number's digits."""
        if not _NUMBER.fullmatch(text):
            raise ValueError(f"{quoted(text)} is not a number (such as 52 or 52.5)")
        if not self.low <= float(text) <= self.high:
            raise ValueError(f"{quoted(text)} is not between {self.low:g} and {self.high:g}")
        if len(text.partition(".")[2].rstrip("0")) > 2:
            raise ValueError(f"{quoted(text)} has more than two decimal places")
        return text


@dataclass(frozen=True, slots=True)
class Country:
    """Two capitals (ISO 3166-1 alpha-2, its shape)."""

    empty: ClassVar[str | None] = ""

    def read(self, text: str) -> str:
        """The code itself."""
        if not _COUNTRY.fullmatch(text):
            raise ValueError(f"{quoted(text)} is not a country code (two capitals, such as CH)")
        return text


@dataclass(frozen=True, slots=True)
class Language:
    """A language tag (RFC 5646, its shape), at most 35 characters."""

    empty: ClassVar[str | None] = ""

    def read(self, text: str) -> str:
        """The tag itself."""
        if len(text) > 35 or not _LANGUAGE.fullmatch(text):
            raise ValueError(f"{quoted(text)} is not a language tag (such as en, de or pt-BR)")
        return text


@dataclass(frozen=True, slots=True)
class TimeZone:
    """A time zone by its name in the IANA time zone database."""

    empty: ClassVar[str | None] = ""
    known: ClassVar[frozenset[str]] = frozenset(zoneinfo.available_timezones())

    def read(self, text: str) -> str:
        """The name itself."""
        if text not in self.known:
            raise ValueError(f"{quoted(text)} is not a time zone (such as Europe/Zurich)")
        return text


@dataclass(frozen=True, slots=True)
class Email:
    """Exactly one address by itself: no list, no name beside it. Whether anybody lives there is not asked."""

    empty: ClassVar[str | None] = ""

    def read(self, text: str) -> str:
        """The address as written."""
        if len(text) > 254:
            raise ValueError(f"{quoted(text)} is longer than 254 characters")
        if _PLAIN_ADDRESS.fullmatch(text) and text.index("@") <= 64:
            return text
        try:
            validate_email(text, check_deliverability=False, globally_deliverable=False, strict=True)
        except EmailNotValidError:
            valid = False
        else:
            domain = text.rpartition("@")[2]
            valid = text.isprintable() and ("." in domain or domain == "localhost")
        if not valid:
            raise ValueError(f"{quoted(text)} is not one e-mail address")
        return text
