"""`make_staff`: one account for a member of staff. Nobody signs up; the house makes the accounts."""

import getpass
import sys
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import CommandError, CommandParser

from service_center.access.actions import make_staff
from service_center.access.management.addresses import must_be_address
from service_center.access.management.command import HouseCommand
from service_center.access.models import Staff
from service_center.access.rules import Role


class Command(HouseCommand):
    """Thin: the arguments, the password, and the refusals."""

    help = (
        "Makes one account for a member of staff. The password is asked for, or read from standard input.\n\n"
        "Example:\n"
        "    python manage.py make_staff ida --role boutique --boutique HAR --name 'Ida Marlcombe'"
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--role", required=True, choices=[role.value for role in Role])
        parser.add_argument("--boutique", default="", help="the key of the boutique; boutique staff need one")
        parser.add_argument("--name", default="", help="the name as colleagues read it")

        parser.add_argument("--email", default="", help="where a letter goes that they try on themselves")

    def handle(
        self, *args: Any, username: str, role: str, boutique: str, name: str, email: str, **options: Any
    ) -> None:
        if role == Role.BOUTIQUE and not boutique:
            raise CommandError("make_staff: --boutique: boutique staff need their boutique", returncode=2)
        if Staff.objects.filter(username=username).exists():
            raise CommandError(f"make_staff: username: {username} is taken", returncode=2)
        if email:
            must_be_address(email, "make_staff: --email")
        password = _password()
        try:
            validate_password(password, user=Staff(username=username, first_name=name))
        except ValidationError as error:
            raise CommandError(f"make_staff: password: {' '.join(error.messages)}", returncode=2) from error
        make_staff(username=username, password=password, role=Role(role), boutique=boutique, name=name, email=email)
        self.stdout.write(f"Made the account {username} ({role}).")


def _password() -> str:
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    first = getpass.getpass("Password: ")
    if getpass.getpass("Again: ") != first:
        raise CommandError("make_staff: password: the two differ", returncode=2)
    return first
