"""Addresses of staff, as commands take them."""

from django.core.exceptions import ValidationError
from django.core.management.base import CommandError
from django.core.validators import validate_email


def must_be_address(email: str, where: str) -> None:
    """Refuse what is no e-mail address. Raises CommandError, by its place."""
    try:
        validate_email(email)
    except ValidationError as error:
        raise CommandError(f"{where}: {email} is no e-mail address", returncode=2) from error
