"""The pictures of a sheet with their words: a title, what is seen, and the same numbers for the table below."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from service_center.measurements.rules import POSITIONS, Reading, Wind
from service_center.measurements.rules.pictures import amplitudes, on_the_dial, pairs, rates

MINUS = "\N{MINUS SIGN}"
PAPER_WIDTH = 330  # CSS pixels: the dial and this stand side by side on a page
Values = Mapping[str, Decimal]


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture. `template` draws `shape`; `key` is unique on a page.

    `first` and `second` name its two states; `one` and `two` say whether the first and the second are drawn.
    """

    key: str
    template: str
    title: str
    says: str
    shape: Any
    first: str
    second: str
    one: bool
    two: bool
    bound: str = ""
    lying: str = ""

    @property
    def paper_width(self) -> float:
        return PAPER_WIDTH

    @property
    def paper_height(self) -> float:
        return round(PAPER_WIDTH * self.shape.height / self.shape.width, 1)


@dataclass(frozen=True, slots=True)
class Named:
    """Readings of one state, and its name in the picture."""

    name: str
    readings: Sequence[Reading]
    wind: Wind = Wind.FULL


def of_a_sheet(readings: Sequence[Reading], *, lowest: Decimal | None) -> list[Picture]:
    """Full wind against 24 h: rates on the dial, then amplitudes. `lowest`: the calibre's limit for upright amplitude."""
    full = Named(_("Full wind"), readings)
    later = Named(_("24 h later"), readings, Wind.AFTER_24H)
    return _both(full, later, lowest, key="wind")


def of_two_sheets(before: Named, after: Named, *, lowest: Decimal | None) -> list[Picture]:
    """Before against after, at full wind. What was read in one alone is drawn alone."""
    return _both(before, after, lowest, key="visits")


def _both(first: Named, second: Named, lowest: Decimal | None, *, key: str) -> list[Picture]:
    found = []
    of_first, of_second = rates(first.readings, first.wind), rates(second.readings, second.wind)
    if of_first or of_second:
        found.append(
            Picture(
                key=f"{key}-rate",
                template="measurements/parts/on_the_dial.html",
                title=_("Rate by position"),
                says=_in_words(
                    _(
                        "Outside the circle the piece gains, inside it loses; each mark stands at the hour that points up."
                    ),
                    [(first.name, of_first), (second.name, of_second)],
                    signed,
                    "s/d",
                ),
                shape=on_the_dial(of_first, of_second),
                first=first.name,
                second=second.name,
                one=bool(of_first),
                two=bool(of_second),
                lying=_("lying"),
            )
        )
    of_first, of_second = amplitudes(first.readings, first.wind), amplitudes(second.readings, second.wind)
    if of_first or of_second:
        found.append(
            Picture(
                key=f"{key}-amplitude",
                template="measurements/parts/pairs.html",
                title=_("Amplitude by position"),
                says=_in_words("", [(first.name, of_first), (second.name, of_second)], whole, "°"),
                shape=pairs(of_first, of_second, step=10, bounds=[] if lowest is None else [lowest]),
                first=first.name,
                second=second.name,
                one=bool(of_first),
                two=bool(of_second),
                bound="" if lowest is None else _("limit %(limit)s°") % {"limit": whole(lowest)},
            )
        )
    return found


def _in_words(opening: str, states: Sequence[tuple[str, Values]], write: Any, unit: str) -> str:
    said = [
        f"{name}: "
        + ", ".join(f"{position} {write(value)}" for position, value in values.items())
        + (f"{unit}." if unit == "°" else f" {unit}.")
        for name, values in states
        if values
    ]
    return " ".join([*([opening] if opening else []), *said])


@dataclass(frozen=True, slots=True)
class BesideRow:
    """One position of two states: rates, amplitudes and beat errors as text, first and second."""

    position: str
    cells: tuple[str, ...]


def beside(first: Named, second: Named) -> list[BesideRow]:
    """Two states side by side, by position: rate, rate, amplitude, amplitude, beat error, beat error."""
    by_place = [{one.position: one for one in named.readings if one.wind is named.wind} for named in (first, second)]
    found = []
    for position in POSITIONS:
        both = [by.get(position) for by in by_place]
        if any(both):
            cells = [
                "" if one is None or (value := getattr(one, field)) is None else write(value)
                for field, write in (("rate", signed), ("amplitude", whole), ("beat_error", hundredths))
                for one in both
            ]
            found.append(BesideRow(position, tuple(cells)))
    return found


def rounded(value: Decimal, decimals: int) -> str:
    """As people write it. Half to even; Django's own formatting would cut, not round."""
    return number_format(value.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN), decimals)


def signed(rate: Decimal) -> str:
    """With its sign: plus gains."""
    text = rounded(abs(rate), 1)
    nought = not any(digit in text for digit in "123456789")
    return text if nought else f"{MINUS if rate < 0 else '+'}{text}"


def whole(value: Decimal) -> str:
    """Degrees."""
    return rounded(value, 0)


def tenths(value: Decimal) -> str:
    """Micrograms a minute; below zero, air came in or the temperatures were read badly."""
    return rounded(value, 1).replace("-", MINUS)


def hundredths(value: Decimal) -> str:
    """Milliseconds."""
    return rounded(value, 2)
