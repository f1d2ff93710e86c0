"""What the desk fills in about letters."""

from django import forms
from django.utils.translation import gettext_lazy as _


class WriteAgainForm(forms.Form):
    """Why letters may go to a stopped address again."""

    reason = forms.CharField(
        label=_("Why letters may go there again"),
        help_text=_("Such as: the owner confirmed the address by telephone today."),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
