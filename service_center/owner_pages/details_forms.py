"""What an owner corrects about themselves, and what they ask about their data."""

import re
import unicodedata
from typing import Any

from django import forms
from django.conf import settings
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Owner
from service_center.book.wording import language_of
from service_center.letters.rules.addressing import one_address, one_line
from service_center.owner_pages.actions import Details
from service_center.owner_pages.owner_form import OwnerForm
from service_center.owner_pages.places import countries

# What an envelope holds.
ADDRESS_LINES, LINE_LENGTH = 7, 70
PHONE = re.compile(r"\+?[0-9 ()/.-]+")
PHONE_DIGITS = range(5, 16)  # ITU-T E.164: at most fifteen

TOO_MANY_CHANGES = _("This was changed several times today. Please try again tomorrow.")


class DetailsForm(OwnerForm):
    """How the house reaches an owner. What they leave as it was is not questioned, however it came into the book."""

    email = forms.EmailField(label=_("E-mail"), max_length=254, required=False)
    phone = forms.CharField(label=_("Telephone"), max_length=64, required=False)
    address = forms.CharField(
        label=_("Postal address"),
        help_text=_("As it stands on an envelope, without your name and the country."),
        required=False,
        max_length=ADDRESS_LINES * (LINE_LENGTH + 2),
        widget=forms.Textarea(attrs={"rows": 4, "autocomplete": "street-address", "dir": "auto"}),
    )
    country = forms.ChoiceField(label=_("Country"), required=False)
    language = forms.ChoiceField(label=_("Language of our letters and pages"))

    def __init__(self, data: QueryDict | None = None, *, owner: Owner, address: str, language: str) -> None:
        initial = {
            "email": owner.email,
            "phone": owner.phone,
            "address": address,
            "country": owner.country,
            "language": language_of(owner),
        }
        super().__init__(data, initial=initial)
        self.owner = owner
        self.fields["email"].required = bool(owner.email)
        self.fields["email"].widget.attrs |= {"autocomplete": "email", "dir": "ltr"}
        self.fields["phone"].widget.attrs |= {"autocomplete": "tel", "inputmode": "tel", "dir": "ltr"}
        known = list(countries(language))
        if owner.country and owner.country not in dict(known):
            known.insert(0, (owner.country, owner.country))
        _choose_from(self.fields["country"], [("", _("Not told")), *known])
        _choose_from(self.fields["language"], list(settings.LANGUAGES))

    def clean_email(self) -> str:
        email: str = self.cleaned_data["email"]
        if email and email != self.owner.email and one_address(email) is None:
            raise forms.ValidationError(_("Please give one e-mail address, such as name@example.com."), code="email")
        return email

    def clean_phone(self) -> str:
        phone = one_line(unicodedata.normalize("NFKC", self.cleaned_data["phone"]))
        digits = sum(char.isdigit() for char in phone)
        if phone and phone != self.owner.phone and not (PHONE.fullmatch(phone) and digits in PHONE_DIGITS):
            raise forms.ValidationError(
                _("Please give a telephone number in digits, such as +44 20 7946 0123."), code="phone"
            )
        return phone

    def clean_address(self) -> str:
        lines = [one_line(line) for line in self.cleaned_data["address"].splitlines()]
        lines = [line for line in lines if line]
        if len(lines) > ADDRESS_LINES or any(len(line) > LINE_LENGTH for line in lines):
            raise forms.ValidationError(
                _("Please give at most %(lines)d lines of at most %(length)d characters each."),
                code="address",
                params={"lines": ADDRESS_LINES, "length": LINE_LENGTH},
            )
        return "\n".join(lines)

    def details(self) -> Details:
        """What was said. For a valid form. A language that means the same as before stays as it is written."""
        said = self.cleaned_data
        same = said["language"] == language_of(self.owner) and bool(self.owner.language)
        return Details(
            email=said["email"],
            phone=said["phone"],
            address=said["address"],
            language=self.owner.language if same else said["language"],
            country=said["country"],
        )


def _choose_from(field: forms.Field, choices: list[tuple[str, Any]]) -> None:
    assert isinstance(field, forms.ChoiceField)
    field.choices = choices


class NameForm(OwnerForm):
    """How an owner's name is written."""

    said = forms.CharField(
        label=_("Your name as it should be written"),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "name", "dir": "auto"}),
    )

    def clean_said(self) -> str:
        return one_line(self.cleaned_data["said"])


class CorrectionForm(OwnerForm):
    """What else is wrong, in the owner's words."""

    said = forms.CharField(
        label=_("What is wrong, and what is right?"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4, "dir": "auto"}),
    )
