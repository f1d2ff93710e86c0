"""What the owner says, and what is asked."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Boutique
from service_center.intake.rules import Asked
from service_center.intake.wording import ASKED


class StoryForm(forms.Form):
    """What the owner says, and what is asked. `boutiques`: for the desk, which says where the piece was handed in."""

    asked = forms.MultipleChoiceField(
        label=_("What is asked for"),
        choices=list(ASKED.items()),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Choose at least one.")},
    )
    owner_says = forms.CharField(
        label=_("What the owner says"),
        help_text=_("In their own words."),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    boutique = forms.ModelChoiceField(
        label=_("At which boutique"), queryset=Boutique.objects.order_by("name", "code"), empty_label=None
    )

    def __init__(self, data: Any = None, *, initial: dict[str, Any], choose_boutique: bool) -> None:
        super().__init__(data, initial=initial)
        if not choose_boutique:
            del self.fields["boutique"]

    def asked_for(self) -> tuple[Asked, ...]:
        """In the house's order."""
        return tuple(one for one in Asked if one.value in self.cleaned_data["asked"])
