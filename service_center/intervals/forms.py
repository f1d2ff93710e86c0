"""What the desk can ask of the list of due dates."""

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Boutique
from service_center.book.rules import ServiceKind
from service_center.intervals.queries import DueFilters
from service_center.intervals.rules import State

STATE_WORDS = {
    State.OVERDUE: _("overdue"),
    State.OWED: _("owed"),
    State.DUE: _("due"),
    State.IN_WINDOW: _("in window"),
    State.NOT_YET: _("not yet"),
    State.HELD: _("held"),
    State.NO_START: _("no start"),
}
KIND_WORDS = {ServiceKind.OVERHAUL: _("overhaul"), ServiceKind.TIGHTNESS: _("tightness")}


class DueFilterForm(forms.Form):
    """State, kind, boutique and month of the due day; empty means any."""

    state = forms.ChoiceField(
        label=_("State"),
        required=False,
        choices=[("", _("any")), *((state.value, word) for state, word in STATE_WORDS.items())],
    )
    kind = forms.ChoiceField(
        label=_("Kind"),
        required=False,
        choices=[("", _("any")), *((kind.value, word) for kind, word in KIND_WORDS.items())],
    )
    boutique = forms.ModelChoiceField(
        Boutique.objects.order_by("name"),
        label=_("Boutique"),
        required=False,
        to_field_name="code",
        empty_label=_("any"),
    )
    month = forms.DateField(
        label=_("Due in month"),
        required=False,
        input_formats=["%Y-%m"],
        error_messages={"invalid": _("Write the month as 2026-05.")},
        widget=forms.DateInput(format="%Y-%m", attrs={"type": "month", "placeholder": "2026-05"}),
    )

    def filters(self, only_boutique: str | None) -> DueFilters:
        """What was asked, as far as it could be read; of one boutique alone where the asker belongs to one."""
        self.is_valid()
        asked = self.cleaned_data
        chosen: Boutique | None = asked.get("boutique")
        return DueFilters(
            state=State(asked["state"]) if asked.get("state") else None,
            kind=ServiceKind(asked["kind"]) if asked.get("kind") else None,
            boutique=only_boutique if only_boutique is not None else (chosen.code if chosen else None),
            month=asked.get("month"),
        )
