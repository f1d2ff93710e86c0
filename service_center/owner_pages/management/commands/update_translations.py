"""Brings the files of translations up to date with the texts that owners read."""

from argparse import RawDescriptionHelpFormatter
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from service_center.owner_pages.catalogue import TRANSLATED, bring_up_to_date, file_of


class Command(BaseCommand):
    help = (
        "Writes service_center/locale/*/LC_MESSAGES/django.po anew for the texts of today.\n\n"
        "Example:\n  python manage.py update_translations\n"
        "  pybabel compile -d service_center/locale -D django"
    )

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        return super().create_parser(prog_name, subcommand, formatter_class=RawDescriptionHelpFormatter, **kwargs)

    def handle(self, *args: Any, **options: Any) -> None:
        for language in TRANSLATED:
            texts, lacking = bring_up_to_date(language)
            self.stdout.write(f"{file_of(language)}: {texts} texts, {lacking} without a translation")
