"""What an owner corrects about themselves, and what they ask about their data."""

import re
import unicodedata
from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.conf import settings
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.book.countries import name_of_country
from service_center.book.models import Owner
from service_center.book.wording import language_of, supported
from service_center.letters.rules.addressing import one_address, one_line
from service_center.letters.rules.layout import DIRECTION_MARKS
from service_center.owner_pages.actions import Details
from service_center.owner_pages.owner_form import OwnerForm
from service_center.owner_pages.places import countries

# What an envelope holds.
ADDRESS_LINES, LINE_LENGTH = 7, 70
PHONE = re.compile(r"\+?[0-9 ()/.-]+")
PHONE_DIGITS = range(5, 16)  # ITU-T E.164: at most fifteen

CHANGED_MEANWHILE = _(
    "This was changed meanwhile, and is “%(text)s” now. What you typed is still here: save again to put it in its place."
)
EMPTIED_MEANWHILE = _("This was emptied meanwhile. What you typed is still here: save again to put it in its place.")
REQUEST_FULL = _("A person looks first at what you asked before. Please wait for their answer, or write to us.")
TOO_MANY_CHANGES = _("This was changed several times today. Please try again tomorrow.")


class DetailsForm(OwnerForm):
    """How the house reaches an owner. What they leave as it was is not questioned, however it came into the book.

    A field that was not sent at all is left as it was: only an empty one is emptied. Each has a hidden one beside it
    with what stood there when the page was opened, so that a page left open sets nothing back.
    """

    particulars: ClassVar[tuple[str, ...]] = ("email", "phone", "address", "country", "language")

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
        stands = {name: address if name == "address" else str(getattr(owner, name)) for name in self.particulars}
        shown = stands | {"language": language_of(owner)}
        initial: dict[str, Any] = shown | {_seen(name): stood for name, stood in stands.items()}
        sent = initial | data.dict() if data is not None else None
        if sent is not None:
            for name in self.particulars:
                if _left_alone(name, sent[name], sent[_seen(name)]):
                    sent[name], sent[_seen(name)] = shown[name], stands[name]
        super().__init__(sent, initial=initial)
        for name in self.particulars:
            self.fields[_seen(name)] = forms.CharField(widget=forms.HiddenInput, required=False, strip=False)
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
        typed: str = self.cleaned_data["phone"]
        phone = typed if typed == self.owner.phone else _number_in_ascii(typed)
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

    def typed_over(self) -> dict[str, str]:
        """The fields that were changed on the page, each with what stood there when it was opened. For a valid form."""
        seen = {name: _with_plain_breaks(self.cleaned_data[_seen(name)]) for name in self.particulars}
        return {name: seen[name] for name in self.particulars if not _left_alone(name, self.data[name], seen[name])}

    def changed_meanwhile(self, stands: Mapping[str, str]) -> None:
        """Tell it beside each field, keep what was typed, and let the next save be a decision of whoever typed it."""
        self.data = dict(self.data.items()) | {_seen(name): now for name, now in stands.items()}
        for name, now in stands.items():
            said = CHANGED_MEANWHILE if now else EMPTIED_MEANWHILE
            self.add_error(name, said % {"text": _as_read(name, now)})


def _seen(name: str) -> str:
    return f"seen-{name}"


def _as_read(name: str, now: str) -> str:
    """What stands in a field, in one line and as its page says it."""
    if name == "country":
        return name_of_country(now)
    if name == "language":
        return str(dict(settings.LANGUAGES).get(supported(now), now))
    return ", ".join(now.splitlines())


def _left_alone(name: str, typed: str, seen: str) -> bool:
    """Whether a field came back as the page showed it. A language is shown by what the house writes in its place."""
    if name == "language":
        return bool(seen) and typed == supported(seen)
    return _with_plain_breaks(typed) == _with_plain_breaks(seen)


def _with_plain_breaks(text: str) -> str:
    """A browser sends every line break as two characters."""
    return text.replace("\r\n", "\n")


def _number_in_ascii(text: str) -> str:
    """A telephone number as people write or paste it: digits of any script, and marks of direction that nobody sees."""
    plain = DIRECTION_MARKS.sub("", unicodedata.normalize("NFKC", text))
    return one_line("".join(str(unicodedata.decimal(char, char)) for char in plain))


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
        said = one_line(self.cleaned_data["said"])
        if not said:  # of control characters alone
            raise forms.ValidationError(self.fields["said"].error_messages["required"], code="required")
        return said


class CorrectionForm(OwnerForm):
    """What else is wrong, in the owner's words."""

    said = forms.CharField(
        label=_("What is wrong, and what is right?"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4, "dir": "auto"}),
    )
