"""The grid of readings on a form: a cell for each wind state, position and value."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from service_center.measurements.rules import POSITIONS, Problem, Reading, Wind, crown_direction

GRID_WINDS = (Wind.FULL, Wind.AFTER_24H)
VALUES = {
    "rate": gettext_lazy("Rate (s/d)"),
    "amplitude": gettext_lazy("Amplitude (°)"),
    "beat_error": gettext_lazy("Beat error (ms)"),
}
# As fine as a machine shows them and the sheet keeps them.
DECIMALS = {"rate": 1, "amplitude": 0, "beat_error": 2}
# A tablet's number pad has no minus sign, and a rate needs one.
KEYBOARDS = {"rate": "text", "amplitude": "numeric", "beat_error": "decimal"}


def decimal_or_none(text: str) -> Decimal | None:
    """A number as people write it: +4,5 and −3 too. None for nothing. ValidationError for anything else."""
    plain = text.strip().replace(",", ".").replace("−", "-").replace("–", "-").removesuffix("°")
    if not plain:
        return None
    try:
        number = Decimal(plain)
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or len(plain) > 12:
        raise ValidationError(_("“%(text)s” is not a number."), params={"text": text[:20]})
    return number


class ReadingField(forms.CharField):
    """One cell."""

    def __init__(self, *, value: str, **kwargs: Any) -> None:
        attrs = {"inputmode": KEYBOARDS[value], "autocomplete": "off", "size": 6, "aria-label": kwargs["label"]}
        super().__init__(required=False, widget=forms.TextInput(attrs=attrs), **kwargs)
        self.decimals = DECIMALS[value]

    def clean(self, value: Any) -> Decimal | None:
        number = decimal_or_none(super().clean(value))
        if number is not None and int(number.normalize().as_tuple().exponent) < -self.decimals:
            finest = Decimal(1).scaleb(-self.decimals)
            raise ValidationError(
                _("%(number)s is finer than %(finest)s."), params={"number": number, "finest": finest}
            )
        return number


@dataclass(frozen=True, slots=True)
class Cell:
    """One value of a row, and what asks for a second look at it."""

    field: forms.BoundField
    questions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One position of the grid: its symbol, where the crown points, and its cells."""

    position: str
    direction: str
    cells: list[Cell]


class Grid:
    """The cells of a form, by wind state and position. `questions` are what the checked form found unlikely."""

    def __init__(self, form: forms.Form, *, crown_at: int) -> None:
        self.form, self.crown_at = form, crown_at
        self.questions: list[Problem] = []

    @staticmethod
    def name(wind: str, position: str, value: str) -> str:
        return f"{wind}-{position}-{value}"

    def field_name(self, problem: Problem) -> str:
        """The cell that a problem speaks of; a whole reading's problem stands at its rate."""
        value = problem.field if problem.field in VALUES else "rate"
        return self.name(problem.wind, problem.position, value)

    def rows(self, wind: Wind) -> Iterator[Row]:
        for position in POSITIONS:
            cells = [
                Cell(self.form[self.name(wind, position, value)], self._asked(wind, position, value))
                for value in VALUES
            ]
            yield Row(position, crown_direction(position, self.crown_at), cells)

    def _asked(self, wind: Wind, position: str, value: str) -> tuple[str, ...]:
        place = (wind.value, position, value)
        return tuple(one.reason for one in self.questions if (one.wind, one.position, one.field) == place)

    def full(self) -> Iterator[Row]:
        return self.rows(Wind.FULL)

    def after_24h(self) -> Iterator[Row]:
        return self.rows(Wind.AFTER_24H)

    def wrong(self) -> list[forms.BoundField]:
        """Cells with errors, in the order of the grid."""
        cells = (cell.field for wind in GRID_WINDS for row in self.rows(wind) for cell in row.cells)
        return [field for field in cells if field.errors]

    def later_is_filled(self) -> bool:
        """Whether anything was typed into the second wind state, so that it is shown open."""
        return any(cell.field.value() for row in self.after_24h() for cell in row.cells)

    def readings(self, data: dict[str, Any]) -> list[Reading]:
        """The readings that were typed; positions left empty are not read."""
        found = []
        for wind in GRID_WINDS:
            for position in POSITIONS:
                values = [data.get(self.name(wind, position, value)) for value in VALUES]
                if any(value is not None for value in values):
                    found.append(Reading(position, wind, *values))
        return found


def add_grid_fields(form: forms.Form, *, crown_at: int = 3) -> Grid:
    """Put the cells on a form."""
    winds = {Wind.FULL: _("full wind"), Wind.AFTER_24H: _("24 h")}
    for wind in GRID_WINDS:
        for position in POSITIONS:
            for value, label in VALUES.items():
                field = ReadingField(value=value, label=f"{label}, {position}, {winds[wind]}")
                form.fields[Grid.name(wind, position, value)] = field
    return Grid(form, crown_at=crown_at)


def cells_of(readings: Iterable[Reading]) -> dict[str, str]:
    """Readings as the grid's cells, to begin a form with."""
    found = {}
    for one in readings:
        for value in VALUES:
            number = getattr(one, value)
            if number is not None:
                found[Grid.name(one.wind, one.position, value)] = f"{number:f}"
    return found
