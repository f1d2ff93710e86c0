"""Arguments that the commands of this subject share."""

from argparse import ArgumentParser, ArgumentTypeError
from datetime import date

from django.utils import timezone


def add_as_of(parser: ArgumentParser) -> None:
    """`--as-of DATE`, standing for today."""
    parser.add_argument(
        "--as-of",
        type=iso_day,
        default=None,
        metavar="DATE",
        help="the day the question is asked for (YYYY-MM-DD); today",
    )


def day_asked_for(as_of: date | None) -> date:
    """The day that was named, or today where the house is."""
    return as_of or timezone.localdate()


def iso_day(text: str) -> date:
    """A day as ISO 8601 writes it. Raises ArgumentTypeError, which names the argument."""
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise ArgumentTypeError(f'"{text}" is not a date (YYYY-MM-DD)') from fault
