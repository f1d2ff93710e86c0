"""A form that owners fill: what is wrong is said in our words, since some of Django's are on familiar terms."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

SAID = {
    "required": _("Please fill this in."),
    "invalid_choice": _("Please choose one of these."),
    "max_length": _("Please write at most %(limit_value)d characters."),
}
WRONG = {
    forms.DateField: _("Please choose a day."),
    forms.EmailField: _("Please give one e-mail address, such as name@example.com."),
}


class OwnerForm(forms.Form):
    """Each field says in our words that it is empty, too long, or not what it should be."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.error_messages |= SAID
            if type(field) in WRONG:
                field.error_messages["invalid"] = WRONG[type(field)]
