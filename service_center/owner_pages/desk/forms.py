"""What the desk fills in about what an owner asks."""

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.owner_pages.rules import RequestState


class DecisionForm(forms.Form):
    """Done or declined, and the answer that the owner reads."""

    state = forms.ChoiceField(
        choices=[(RequestState.DONE.value, _("Done")), (RequestState.DECLINED.value, _("Declined"))]
    )
    reason = forms.CharField(
        label=_("Your answer"),
        help_text=_("The owner reads it on their page as you write it: in their language, where you can."),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3, "dir": "auto"}),
    )
