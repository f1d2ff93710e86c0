"""A new piece, and who it belongs to."""

from datetime import date
from hashlib import sha256
from typing import Any
from uuid import uuid4

from babel.core import Locale
from django import forms
from django.conf import settings
from django.core.validators import EmailValidator
from django.utils.translation import gettext_lazy as _

from service_center.book.countries import country_codes
from service_center.book.models import Owner, WatchModel
from service_center.book.rules import phone_key, serial_key
from service_center.intake.newcomers.actions import NewOwner
from service_center.intake.newcomers.queries import LikeOwner, LikePieces

SOMEBODY_ELSE = "somebody_else"
LETTERS = {"": _("Not asked"), "yes": _("Yes"), "no": _("No")}
LETTERS_MEAN = {"": None, "yes": True, "no": False}


class PieceForm(forms.Form):
    """A piece that the book does not know. `like` is what looks like it; `another` says that it is none of them."""

    serial = forms.CharField(
        label=_("Serial"),
        help_text=_("As it stands on the case."),
        max_length=64,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )
    model = forms.ModelChoiceField(
        label=_("Model"), queryset=WatchModel.objects.order_by("name", "reference"), required=False,
        empty_label=_("Not known"),
    )  # fmt: skip
    sold_on = forms.DateField(
        label=_("Sold on"),
        help_text=_("From the guarantee card. Without it no guarantee runs."),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    another = forms.CharField(required=False, max_length=64)

    def __init__(self, data: Any = None, *, initial: dict[str, Any] | None = None, today: date) -> None:
        super().__init__(data, initial=initial)
        self.today = today
        self.fields["sold_on"].widget.attrs["max"] = today.isoformat()
        self.fields["model"].label_from_instance = _named  # type: ignore[attr-defined]

    def clean_serial(self) -> str:
        serial = " ".join(self.cleaned_data["serial"].split())
        if len(serial_key(serial)) < 3:
            raise forms.ValidationError(_("A serial has at least three letters or digits."))
        return serial

    def clean_sold_on(self) -> date | None:
        day: date | None = self.cleaned_data["sold_on"]
        if day and day > self.today:
            raise forms.ValidationError(_("That day is still to come."))
        return day

    def asks_about(self, like: LikePieces) -> str:
        """What a tick speaks of: other look-alikes ask anew."""
        said = [self.cleaned_data.get("serial", ""), *(piece.pk for piece in like.near), like.elsewhere]
        return sha256(repr(said).encode()).hexdigest()


def _named(model: WatchModel) -> str:
    return f"{model.name} ({model.reference})" if model.name else model.reference


class OwnerForm(forms.Form):
    """Somebody new; or one of those the book knows, chosen in `who`. The page of a new piece has it too."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    name = forms.CharField(
        label=_("Name"),
        help_text=_("As the owner writes it."),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    phone = forms.CharField(
        label=_("Telephone"),
        required=False,
        max_length=64,
        widget=forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
    )
    email = forms.CharField(
        label=_("E-mail"),
        required=False,
        max_length=254,
        widget=forms.TextInput(attrs={"inputmode": "email", "autocomplete": "off", "autocapitalize": "off"}),
    )
    language = forms.ChoiceField(label=_("Writes and reads"), choices=settings.LANGUAGES, widget=forms.RadioSelect)
    country = forms.ChoiceField(label=_("Country"), required=False)
    letters = forms.ChoiceField(
        label=_("May the house write when a service is due?"),
        choices=list(LETTERS.items()),
        required=False,
        widget=forms.RadioSelect,
    )
    who = forms.CharField(required=False, max_length=32)

    def __init__(self, data: Any = None, *, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, initial={"form_key": uuid4(), **(initial or {})})
        names = Locale.parse("en").territories
        countries = sorted((name, code) for code, name in names.items() if code in country_codes())
        self.fields["country"].choices = [  # type: ignore[attr-defined]
            ("", _("Not known")),
            *((code, name) for name, code in countries),
        ]

    def clean_email(self) -> str:
        email: str = self.cleaned_data["email"].strip()
        if email:
            EmailValidator(message=_("This is no e-mail address."))(email)
        return email

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        reached = data.get("email") or phone_key(data.get("phone", ""))
        if not reached and "email" not in self.errors and "phone" not in self.errors:
            self.add_error("phone", _("Note a telephone or an e-mail, so that the house can reach the owner."))
        return data

    def chosen(self, alike: list[LikeOwner]) -> Owner | NewOwner | None:
        """The owner to write; None where the staff have yet to say whether it is one of those alike."""
        who = self.cleaned_data["who"]
        same = next((one.owner for one in alike if str(one.owner.pk) == who), None)
        if same or (alike and who != SOMEBODY_ELSE):
            return same
        data = self.cleaned_data
        return NewOwner(
            data["name"].strip(),
            data["phone"].strip(),
            data["email"],
            data["language"],
            data["country"],
            LETTERS_MEAN[data["letters"]],
        )


def mark_of(*sent: forms.Form) -> str:
    """The same for what is sent twice from one page; another once something in it was mended, which is to be heard."""
    return sha256(repr([sorted(form.cleaned_data.items()) for form in sent]).encode()).hexdigest()
