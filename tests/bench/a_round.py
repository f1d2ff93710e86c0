"""A round over a whole maker's book: seconds and memory of the command, and the same letters after it was killed.

    python -m tests.bench.a_round [pieces [letters]]

The book is made and its due dates are worked out; then the house is put in its stride: nearly every owner with
something to come had their letters some months ago, so that about the asked number of letters is left for one day. The
round is `manage.py daily_round --json`, a process of its own; it is run once undisturbed, and once more, from the same
book, killed in the middle and run again. Runs on the database of DATABASE_URL, in a test database of its own; a million
pieces take a quarter of an hour and some gigabytes of disk while it runs. With `--here` nothing is made and nothing
destroyed: the book of DATABASE_URL is used as it is found, in its stride already or not.
"""

import json
import os
import signal
import subprocess
import sys
import time as clock
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import django
from django.db import connection, transaction

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.book.models import HistoryEntry, Piece  # noqa: E402  # after Django is set up
from service_center.demo import large_book  # noqa: E402
from service_center.intervals.actions import recompute  # noqa: E402
from service_center.letters.actions import daily_round  # noqa: E402
from service_center.letters.models import Letter, Reminder, Round  # noqa: E402
from service_center.letters.queries.rounds import look_for_owners  # noqa: E402
from service_center.letters.rules.words import LetterState  # noqa: E402

UNTIL, AS_OF = date(2026, 6, 30), date(2026, 7, 1)
# The system counts a process's memory from that of the one that started it: this one stands between, and is small.
MEASURED = """
import resource, subprocess, sys
code = subprocess.call(sys.argv[1:])
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss, file=sys.stderr)
sys.exit(code)
"""


@dataclass(frozen=True)
class Told:
    """One run of the command: its seconds, its memory in MB, and what it printed."""

    seconds: float
    megabytes: float
    printed: str


def main() -> None:
    here = "--here" in sys.argv
    pieces, letters = (*[int(text) for text in sys.argv[1:] if text.isdigit()], 100_000, 10_000)[:2]
    with nullcontext() if here else _test_database():
        if not here:
            large_book.make(
                pieces, until=UNTIL, seed=7, progress=lambda _done: print(".", end="", file=sys.stderr, flush=True)
            )
            recompute(None, as_of=UNTIL)
        _in_its_stride(letters)
        undisturbed = _round()
        written = _written()
        said = json.loads(undisturbed.printed)
        _forget()
        killed = _kill_a_round(at=said["letters"] // 2)
        half = Letter.objects.filter(planned_on=AS_OF).count()
        again = _round()
        assert _written() == written, "the round after the killed one wrote other letters"
        _forget()
        sizes = (Piece.objects.count(), HistoryEntry.objects.count(), Letter.objects.count(), Reminder.objects.count())
    print(f"{connection.vendor}: {sizes[0]:,} pieces, {sizes[1]:,} entries, {sizes[2]:,} letters of the past")
    print(
        f"  one round: {said['letters']:,} letters, {said['reminders']:,} reminders, {len(said['not_written']):,} not written"
    )
    print(f"  undisturbed                    {undisturbed.seconds:.1f} s, {undisturbed.megabytes:,.0f} MB at most")
    print(f"  killed after {killed:.1f} s            {half:,} letters written, none of them let go")
    print(
        f"  run again                      {again.seconds:.1f} s, {again.megabytes:,.0f} MB; the same letters, none twice"
    )


def _in_its_stride(letters: int) -> None:
    """Tell the months before, for all owners with something to come but so many; then what is left beyond these.

    Left are those whose check's year came round since the last of those letters: thirteen thousand of a million.
    """
    coming = look_for_owners(AS_OF, lambda _beyond_reach: None)
    step = max(1, len(coming) // letters)
    told = [owner for at, owner in enumerate(coming) if at % step or at // step >= letters]
    if not told or Letter.objects.exists():
        return
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("CREATE TEMP TABLE told (owner_id bigint PRIMARY KEY)")
        for at in range(0, len(told), 10_000):
            rows = ", ".join(f"({owner})" for owner in told[at : at + 10_000])
            cursor.execute(f"INSERT INTO told VALUES {rows}")
        for step_name, days in (("invitation", 75), ("nudge", 29)):
            day = AS_OF - timedelta(days=days)
            cursor.execute(LETTERS, {"day": day, "at": f"{day} 09:00:03+00:00"})
            cursor.execute(
                REMINDERS, {"day": day, "step": step_name, "as_of": AS_OF, "due": AS_OF + timedelta(days=60)}
            )
        cursor.execute("DROP TABLE told")
    _tell_the_others(letters)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _tell_the_others(letters: int) -> None:
    """Write the letters of the day, let all but so many have gone out two weeks before, and forget the others."""
    daily_round(as_of=AS_OF, now=datetime.combine(AS_OF, time(4), UTC))
    written = list(Letter.objects.filter(planned_on=AS_OF).order_by("pk").values_list("pk", flat=True))
    stay = {written[at * len(written) // letters] for at in range(letters)} if len(written) > letters else set(written)
    gone = [letter for letter in written if letter not in stay]
    day = AS_OF - timedelta(days=14)
    for at in range(0, len(gone), 10_000):
        Letter.objects.filter(pk__in=gone[at : at + 10_000]).update(
            round=None, planned_on=day, state=LetterState.SENT, attempt=1, sent_at=datetime.combine(day, time(9), UTC)
        )
    _forget()


LETTERS = """
INSERT INTO letters_letter (owner_id, channel, language, planned_on, state, not_before, attempt, temporary_refusals,
    claimed_by, email, sent_at, reply, reason, written_at)
SELECT owner_id, 'mail', 'en', %(day)s, 'sent', %(at)s, 1, 0, '', '', %(at)s, '250', '', %(at)s FROM told
"""
REMINDERS = """
INSERT INTO letters_reminder (piece_id, kind, starts_on, step, year, letter_id, due_on, ended_because)
SELECT d.piece_id, d.kind, d.starts_on, %(step)s, 0, l.id, d.due_on, ''
FROM told t JOIN letters_letter l ON l.owner_id = t.owner_id AND l.planned_on = %(day)s
JOIN book_piece p ON p.owner_id = t.owner_id JOIN intervals_duedate d ON d.piece_id = p.id
WHERE d.starts_on IS NOT NULL AND d.held = '' AND d.opens_on <= %(as_of)s
    AND (d.kind = 'tightness' OR d.due_on <= %(due)s OR d.owed_since IS NOT NULL)
"""


def _command() -> list[str]:
    return [sys.executable, "manage.py", "daily_round", "--as-of", AS_OF.isoformat(), "--confirmed", "--json"]


def _environment() -> dict[str, str]:
    name = connection.settings_dict["NAME"]
    address = os.environ.get("DATABASE_URL", "sqlite:///")
    return {**os.environ, "DATABASE_URL": f"{address.rpartition('/')[0]}/{name}"}


def _round() -> Told:
    """Run the command to its end; the memory is that of its process alone."""
    connection.close()
    started = clock.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", MEASURED, *_command()], env=_environment(), capture_output=True, text=True, check=True
    )
    seconds = clock.perf_counter() - started
    return Told(seconds, int(done.stderr.split()[-1]) / 1024, done.stdout)


def _kill_a_round(*, at: int) -> float:
    """Kill it when it has written so many letters: after how many seconds that was."""
    connection.close()
    started = clock.perf_counter()
    process = subprocess.Popen(_command(), env=_environment(), stdout=subprocess.DEVNULL)
    while Letter.objects.filter(planned_on=AS_OF).count() < at and process.poll() is None:
        clock.sleep(0.05)
    after = clock.perf_counter() - started
    process.send_signal(signal.SIGKILL)
    assert process.wait() == -signal.SIGKILL, "the round ended before it was killed"
    clock.sleep(1)  # the database notices
    return after


def _written() -> set[tuple[object, ...]]:
    rows = Reminder.objects.filter(letter__planned_on=AS_OF, ended_on=None)
    fields = ("letter__owner_id", "letter__state", "piece_id", "kind", "starts_on", "step", "year")
    found = list(rows.values_list(*fields))
    assert len(found) == len(set(found))
    owners = list(Letter.objects.filter(planned_on=AS_OF).values_list("owner_id", flat=True))
    assert len(owners) == len(set(owners)), "two letters to one owner"
    return set(found)


def _forget() -> None:
    """The book as it was before the round."""
    Reminder.objects.filter(letter__planned_on=AS_OF).delete()
    Letter.objects.filter(planned_on=AS_OF).delete()
    Round.objects.filter(day=AS_OF).delete()


@contextmanager
def _test_database() -> Iterator[None]:
    name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)


if __name__ == "__main__":
    main()
