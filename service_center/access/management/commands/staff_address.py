"""`staff_address`: the e-mail address of a member of staff, to which letters go that they try on themselves."""

import argparse
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from service_center.access.actions import keep_address
from service_center.access.management.addresses import must_be_address
from service_center.access.models import Staff


class Command(BaseCommand):
    """Thin: the arguments and the refusals."""

    help = (
        "Keeps the e-mail address of a member of staff.\n\n"
        "Example:\n"
        "    python manage.py staff_address ida ida@fernhollow.example"
    )

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        return super().create_parser(
            prog_name, subcommand, formatter_class=argparse.RawDescriptionHelpFormatter, **kwargs
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
