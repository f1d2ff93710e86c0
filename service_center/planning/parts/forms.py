"""How long an order should last."""

from typing import Any

from django import forms

from service_center.planning.parts.order_list import COVERS, USUAL_COVER


class CoverForm(forms.Form):
    """Weeks from delivery."""

    cover = forms.TypedChoiceField(choices=[(weeks, weeks) for weeks in COVERS], coerce=int)

    @classmethod
    def asked_for(cls, data: Any) -> int:
        """The weeks asked for, or the usual ones."""
        form = cls(data)
        return int(form.cleaned_data["cover"]) if form.is_valid() else USUAL_COVER
