"""What the desk fills in about what an owner asks."""

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Owner
from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.words import Ground
from service_center.owner_pages.details_forms import DetailsForm
from service_center.owner_pages.rules import RequestState, version_of


class DecisionForm(forms.Form):
    """Done or declined, and the answer that the owner reads. `seen` says which words of theirs stood above it."""

    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    state = forms.ChoiceField(
        choices=[(RequestState.DONE.value, _("Done")), (RequestState.DECLINED.value, _("Declined"))]
    )
    reason = forms.CharField(
        label=_("Your answer"),
        help_text=_("The owner reads it on their page as you write it: in their language, where you can."),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3, "dir": "auto"}),
    )

    def asked_otherwise(self, said: str) -> None:
        """Tell it, keep what was typed, and let the next press be a decision about the words that stand there now."""
        self.data = dict(self.data.items()) | {"seen": version_of(said)}
        text = _("The owner wrote something else meanwhile: it stands above now. Please look at it, and decide again.")
        self.add_error(None, text)


class GroundForm(forms.Form):
    """What an owner said of letters about paid service, on which day, in which words."""

    ground = forms.ChoiceField(
        label=_("What holds now"),
        choices=[
            (Ground.CONSENT.value, _("They consent to letters")),
            (Ground.EXISTING_CUSTOMER.value, _("They are a customer, were told of such letters and did not refuse")),
            (Ground.WITHDRAWN.value, _("They withdraw: no more letters")),
        ],
        widget=forms.RadioSelect,
    )
    on = forms.DateField(label=_("On"), widget=forms.DateInput(attrs={"type": "date"}))
    wording = forms.CharField(
        label=_("In which words"),
        help_text=_("What they were asked and what they said, and how: such as at the telephone or at the counter."),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3, "dir": "auto"}),
    )


class ParticularsForm(DetailsForm):
    """What the desk heard of an owner: how they are reached, how their name is written, and from where it is known."""

    name = forms.CharField(
        label=_("Name"),
        help_text=_("Only its spelling. A watch that was sold on gets its new owner on the page of the watch."),
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off", "dir": "auto"}),
    )
    reason = forms.CharField(
        label=_("How you know"),
        help_text=_("Such as: told by the owner at the telephone, whom I called at the number we had."),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2, "dir": "auto"}),
    )
    particulars = ("name", *DetailsForm.particulars)
    field_order = ["name", "email", "phone", "address", "country", "language", "reason"]

    def __init__(self, data: QueryDict | None = None, *, owner: Owner, address: str, language: str) -> None:
        super().__init__(data, owner=owner, address=address, language=language)
        self.fields["name"].required = bool(owner.name)
        self.fields["email"].required = False
        self.fields["address"].help_text = _("As it stands on an envelope, without the name and the country.")
        self.fields["language"].label = _("Language of letters and pages")
        for field in ("email", "phone", "address"):
            self.fields[field].widget.attrs["autocomplete"] = "off"  # it is somebody else's, not this machine's

    def clean_name(self) -> str:
        return one_line(self.cleaned_data["name"])


class EraseForm(forms.Form):
    """The owner's number, typed: nobody erases the wrong one by a slip."""

    code = forms.CharField(label=_("The owner's number, to confirm"), max_length=64)

    def __init__(self, *args: Any, code: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.of_owner = code

    def clean_code(self) -> str:
        """That of this owner, and no other."""
        said = str(self.cleaned_data["code"]).strip()
        if said != self.of_owner:
            raise forms.ValidationError(_("This is not the number of this owner."))
        return said


FAULTS_OF_GROUNDS = {
    "on: it lies in the future": _("That day lies in the future."),
    "on: it lies before the latest ground": _("A later ground is written down already: this day lies before it."),
    "ground: it is withdrawn already": _("That is written down already: letters were withdrawn before."),
}
