"""Where the desk wants a line of a week's plan."""

from datetime import date
from typing import Any

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from service_center.planning.week_plan.board import Board


class LineForm(forms.Form):
    """A watchmaker and a day of the week on which they are there."""

    watchmaker = forms.TypedChoiceField(label=_("Watchmaker"), coerce=int)
    day = forms.TypedChoiceField(label=_("Day"), coerce=date.fromisoformat)

    def __init__(self, *args: object, board: Board, as_of: date, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self._there = {(bench.id, one.day): one.there for bench in board.benches for one in bench.days}
        watchmaker, day = self.fields["watchmaker"], self.fields["day"]
        assert isinstance(watchmaker, forms.ChoiceField)
        assert isinstance(day, forms.ChoiceField)
        watchmaker.choices = [(bench.id, bench.name) for bench in board.benches]
        day.choices = [(one.isoformat(), date_format(one, "l j F")) for one in board.days if one >= as_of]

    def clean(self) -> dict[str, Any]:
        """Nobody is given work on a day on which they are away; whatever else speaks against it the plan says."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        who, day = given.get("watchmaker"), given.get("day")
        if who and day and not self._there.get((who, day)):
            self.add_error("day", _("This watchmaker is not at the bench on that day."))
        return given
