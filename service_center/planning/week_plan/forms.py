"""Where the desk wants a line of a week's plan."""

from datetime import date

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from service_center.planning.week_plan.board import Board


class LineForm(forms.Form):
    """A watchmaker and a day of the week. Whether both go together the plan says, with its reason."""

    watchmaker = forms.TypedChoiceField(label=_("Watchmaker"), coerce=int)
    day = forms.TypedChoiceField(label=_("Day"), coerce=date.fromisoformat)

    def __init__(self, *args: object, board: Board, as_of: date, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        watchmaker, day = self.fields["watchmaker"], self.fields["day"]
        assert isinstance(watchmaker, forms.ChoiceField)
        assert isinstance(day, forms.ChoiceField)
        watchmaker.choices = [(bench.id, bench.name) for bench in board.benches]
        day.choices = [(one.isoformat(), date_format(one, "l j F")) for one in board.days if one >= as_of]
