"""Brings the files of translations up to date with the texts that owners read."""

from typing import Any

from service_center.access.management.command import HouseCommand
from service_center.owner_pages.catalogue import TRANSLATED, bring_up_to_date, file_of


class Command(HouseCommand):
    help = (
        "Writes service_center/locale/*/LC_MESSAGES/django.po anew for the texts of today.\n\n"
        "Example:\n  python manage.py update_translations\n"
        "  pybabel compile -d service_center/locale -D django"
    )

    def handle(self, *args: Any, **options: Any) -> None:
        for language in TRANSLATED:
            texts, lacking = bring_up_to_date(language)
            self.stdout.write(f"{file_of(language)}: {texts} texts, {lacking} without a translation")
