"""The signature."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.intake.rules.strokes import LEAST_WAY, NoSignature, Stroke, strokes_of, way_of


class SignForm(forms.Form):
    """The signature: on glass, or a typed name with a tick. `seen` is the text under which it stands.

    `mail_to`: the owner's address, where this member of staff may see it and a letter reaches it; empty otherwise.
    """

    seen = forms.CharField(max_length=64, widget=forms.HiddenInput)
    strokes = forms.CharField(required=False, max_length=120_000, widget=forms.HiddenInput)
    signer = forms.CharField(label=_("Name of who signs"), max_length=200)
    agrees = forms.BooleanField(
        label=_("The owner has read the text above and agrees; the typed name stands for the signature"), required=False
    )
    mail = forms.BooleanField(required=False)

    def __init__(self, data: Any = None, *, initial: dict[str, Any], mail_to: str) -> None:
        super().__init__(data, initial=initial)
        self.fields["mail"].label = _("Receipt by e-mail to %(address)s") % {"address": mail_to}
        if not mail_to:
            del self.fields["mail"]

    def clean_strokes(self) -> tuple[Stroke, ...]:
        try:
            strokes = strokes_of(self.cleaned_data["strokes"])
        except NoSignature as refused:
            raise forms.ValidationError(_("The signature did not arrive whole. Please sign again.")) from refused
        return strokes if way_of(strokes) >= LEAST_WAY else ()

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not data.get("strokes") and not data.get("agrees") and "strokes" not in self.errors:
            self.add_error(
                "strokes", _("Please let the owner sign on the glass, or type the name and tick the box below it.")
            )
        return data
