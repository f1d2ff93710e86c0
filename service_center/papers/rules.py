"""Page sizes of the papers."""

from enum import StrEnum


class PageSize(StrEnum):
    """What the house's printers hold, in CSS's own words."""

    A4 = "A4"
    LETTER = "letter"
