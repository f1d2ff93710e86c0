"""What the desk types about bench hours."""

from decimal import Decimal

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import Complexity
from service_center.planning.wording import SKILLS

HORIZONS = (26, 52, 104, 156)


class HoursForm(forms.Form):
    """Bench hours of an overhaul, a field a skill."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # Django's own signature
        for skill in Complexity:
            self.fields[skill.value] = forms.DecimalField(
                label=SKILLS[skill.value], min_value=Decimal("0.25"), max_value=Decimal(500), decimal_places=2
            )


class HorizonForm(forms.Form):
    """How many weeks ahead to look."""

    weeks = forms.TypedChoiceField(
        label=_("Weeks ahead"), coerce=int, choices=[(str(weeks), str(weeks)) for weeks in HORIZONS], initial="52"
    )
