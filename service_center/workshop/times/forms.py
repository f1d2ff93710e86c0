"""The table as a form: minutes of each operation at each complexity, and the wait after it."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import Complexity
from service_center.workshop.orders.rules.operations import Operation, Time
from service_center.workshop.times.queries import Row

LONGEST = 24 * 60
LONGEST_WAIT = 14 * 24


def minutes_name(operation: Operation, complexity: Complexity) -> str:
    return f"{operation.value}-{complexity.value}"


def wait_name(operation: Operation) -> str:
    return f"{operation.value}-wait"


class TimesForm(forms.Form):
    """Whole minutes; empty or 0: not part of such an order. The wait after an operation is the same at every calibre."""

    def __init__(self, data: Any = None, *, rows: Sequence[Row], words: dict[Operation, Any], skills: Any) -> None:
        super().__init__(data)
        for row in rows:
            for cell in row.cells:
                self.fields[minutes_name(row.operation, cell.complexity)] = forms.IntegerField(
                    label=f"{words[row.operation]}, {skills[cell.complexity]}",
                    required=False,
                    min_value=0,
                    max_value=LONGEST,
                    initial=cell.time.minutes if cell.time else None,
                    widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
                )
            waits = [cell.time.wait_hours for cell in row.cells if cell.time]
            self.fields[wait_name(row.operation)] = forms.IntegerField(
                label=_("Hours of rest after %(operation)s") % {"operation": words[row.operation]},
                required=False,
                min_value=0,
                max_value=LONGEST_WAIT,
                initial=max(waits, default=0),
                widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
            )

    def time(self, operation: Operation, complexity: Complexity) -> Time:
        """What was typed for one cell."""
        data = self.cleaned_data
        minutes = data[minutes_name(operation, complexity)] or 0
        return Time(minutes, (data[wait_name(operation)] or 0) if minutes else 0)
