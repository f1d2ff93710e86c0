"""Words of the book, and how what staff type is matched to what is written."""

import unicodedata
from enum import StrEnum


class ServiceKind(StrEnum):
    """What an interval counts to (due-dates.md, words)."""

    OVERHAUL = "overhaul"
    TIGHTNESS = "tightness"


class EntryKind(StrEnum):
    """What was done to a piece."""

    OVERHAUL = "overhaul"
    REPAIR = "repair"
    TIGHTNESS_CHECK = "tightness_check"
    BATTERY = "battery"
    STRAP = "strap"


class Tightness(StrEnum):
    """How a piece stood the tightness test at an entry."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_TESTED = "not_tested"


class DoneBy(StrEnum):
    """Whose hands: the maker's own workshop, or somebody outside."""

    OWN = "own"
    OUTSIDE = "outside"


class Use(StrEnum):
    """How a piece is worn; in water means regularly (swimming, diving, sauna)."""

    EVERYDAY = "everyday"
    IN_WATER = "in_water"


class Status(StrEnum):
    """Whether a piece is about. Anything but in use is held: nobody is invited for it."""

    IN_USE = "in_use"
    LOST = "lost"
    STOLEN = "stolen"
    RETIRED = "retired"


class Winding(StrEnum):
    """How the mainspring is wound, or that there is none."""

    HAND = "hand"
    AUTOMATIC = "automatic"
    QUARTZ = "quartz"


class Complexity(StrEnum):
    """The skill a calibre asks of a watchmaker."""

    SIMPLE = "simple"
    AUTOMATIC = "automatic"
    CHRONOGRAPH = "chronograph"
    COMPLICATED = "complicated"


class Place(StrEnum):
    """Where a piece is."""

    OWNER = "owner"
    BOUTIQUE = "boutique"
    WORKSHOP = "workshop"


def name_key(name: str) -> str:
    """A name as it is searched: without accents, case or doubled spaces, in any script."""
    plain = name
    if not name.isascii():  # plain letters have nothing to take off, and a book has a million of them
        plain = "".join(char for char in unicodedata.normalize("NFKD", name) if not unicodedata.combining(char))
    return " ".join(plain.casefold().split())


def family_name_key(name: str) -> str:
    """The same with the last word first, since staff type family names and books write them either way."""
    words = name_key(name).split()
    return " ".join(words[-1:] + words[:-1])


def phone_key(phone: str) -> str:
    """The digits of a telephone number from the end, so that a search by its last digits is a prefix search."""
    return "".join(filter(str.isdigit, phone))[::-1]


def serial_key(serial: str) -> str:
    """A serial as it is searched: capitals and digits, whatever spaces, dashes or dots were typed."""
    return "".join(filter(str.isalnum, unicodedata.normalize("NFKC", serial).upper()))
