"""What it costs to write one letter, from what the database gave to the bytes that go out; processor time.

    python -m tests.bench.composing [letters]

Every letter differs in its owner, its piece, its day and its secrets, as on the night. No database and no server.
"""

import os
import sys
import time
from datetime import date, timedelta

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from django.conf import settings  # noqa: E402  # after Django is set up

from service_center.letters.composing import letter as compose  # noqa: E402
from service_center.letters.composing.wording import wording_in  # noqa: E402
from service_center.letters.wording.examples import EXAMPLES, pieces_of_example  # noqa: E402

CASES = ("overhaul.invitation", "several.nudge")
TODAY = date(2026, 11, 25)


def main() -> None:
    letters = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    for case in CASES:
        for language, _name in settings.LANGUAGES:
            write(case, language, 0)
            began = time.process_time()
            size = sum(len(write(case, language, number)) for number in range(letters))
            each = (time.process_time() - began) / letters * 1000
            print(f"{case:20} {language}  {each:.3f} ms  {size // letters} bytes")


def write(case: str, language: str, number: int) -> bytes:
    """One letter, whole."""
    day = TODAY + timedelta(days=number % 365)
    example = EXAMPLES["sale" if number % 2 else "past"]
    content = compose.LetterContent(
        number, language, f"Ada Winter {number}", day, pieces_of_example(example, case, day), wording_in(language)
    )
    links = compose.links_for(f"{number:043d}", f"{number:043d}")
    return compose.letter_as_mail(
        content, links, to_name=f"Ada Winter {number}", to_address="ada@owners.example", message_id=f"<{number}@house>"
    )


if __name__ == "__main__":
    main()
