"""What every command of the house begins with."""

from argparse import RawDescriptionHelpFormatter
from typing import Any

from django.core.management.base import BaseCommand, CommandParser


class HouseCommand(BaseCommand):
    """A command whose `--help` keeps its lines and examples as they were written."""

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        return super().create_parser(prog_name, subcommand, formatter_class=RawDescriptionHelpFormatter, **kwargs)
