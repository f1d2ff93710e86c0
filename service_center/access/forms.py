"""What a member of staff writes down of themselves."""

from django import forms
from django.utils.translation import gettext_lazy as _


class OwnAddressForm(forms.Form):
    """One plain address, or none."""

    use_required_attribute = False
    email = forms.EmailField(
        label=_("Your e-mail address at work"),
        required=False,
        max_length=254,
        help_text=_("Only letters that you try on yourself go there. Leave it empty to take it away."),
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )
