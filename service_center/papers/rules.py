"""Page sizes of the papers."""

from enum import StrEnum


class PageSize(StrEnum):
    """What the house's printers hold, in CSS's own words. Label sizes differ: this one is common practice."""

    A4 = "A4"
    LETTER = "letter"
    LABEL = "62mm 29mm"  # a label that is tied to a piece


# Countries whose printers hold letter paper. Common practice.
LETTER_PAPER = frozenset({"US", "CA", "MX", "PH", "CL", "CO"})
