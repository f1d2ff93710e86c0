"""`staff_address`: the e-mail address of a member of staff, to which letters go that they try on themselves."""

from typing import Any

from django.core.management.base import CommandError, CommandParser

from service_center.access.actions import keep_address
from service_center.access.management.addresses import must_be_address
from service_center.access.management.command import HouseCommand
from service_center.access.models import Staff


class Command(HouseCommand):
    """Thin: the arguments and the refusals."""

    help = (
        "Keeps the e-mail address of a member of staff.\n\n"
        "Example:\n"
        "    python manage.py staff_address ida ida@fernhollow.example"
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")
        parser.add_argument("email")

    def handle(self, *args: Any, username: str, email: str, **options: Any) -> None:
        staff = Staff.objects.filter(username=username).first()
        if staff is None:
            raise CommandError(f"staff_address: username: nobody is called {username}", returncode=2)
        must_be_address(email, "staff_address: email")
        keep_address(staff, email)
        self.stdout.write(f"Letters that {username} tries go to {email}.")
