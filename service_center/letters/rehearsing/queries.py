"""What the round of a day would do, read without writing and without locking anybody out; and what was found lately."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.conf import settings

from service_center.book.models import Piece
from service_center.letters.calendars import working_days
from service_center.letters.queries.held_rounds import rounds_before
from service_center.letters.queries.rounds import look_for_owners, owners_before_round, within_reach
from service_center.letters.rehearsing.models import Rehearsal
from service_center.letters.rehearsing.rules import Rehearsed, Travelling
from service_center.letters.rules.deciding import Reason, decide
from service_center.letters.rules.unusual import Asked, unusual_day, unusually_many
from service_center.letters.rules.words import Unusual

OWNERS_AT_ONCE = 200


def rehearse(as_of: date) -> Rehearsed:
    """The round that the clock would run for a day, from the due dates as they are stored. Seven statements for 200 owners.

    Of a whole maker's book this is the worker's (actions): it reads as much as the round itself.
    """
    before_it = rounds_before()
    found = Rehearsed(unusual=unusual_day(as_of, before_it, Asked.BY_CLOCK))
    ids = look_for_owners(as_of, lambda _beyond_reach: None)
    found.owners = len(ids)
    for at in range(0, len(ids), OWNERS_AT_ONCE):
        for before in owners_before_round(within_reach(ids[at : at + OWNERS_AT_ONCE]), as_of):
            decision = decide(before.side, as_of, working_days(before.country))
            if decision.joins is not None and found.unusual:
                # As in the round (actions.rounds): nothing of a round that is held travels with what waits.
                decision = decision.left_out(Reason.LETTER_ON_ITS_WAY, as_of)
            found.add(decision)
    at_least = settings.ROUND_LETTERS_USUAL
    if found.unusual is None and unusually_many(found.letters, before_it, Asked.BY_CLOCK, at_least=at_least):
        found.unusual = Unusual.MANY
    return found


@dataclass(frozen=True, slots=True)
class Shown:
    """The latest rehearsal of a day that is worked out; one that is under way; and one that came to nothing since."""

    found: Rehearsed | None
    rehearsal: Rehearsal | None
    under_way: Rehearsal | None
    failed: Rehearsal | None


def shown_of(day: date) -> Shown:
    """What is known of the round of a day. Three statements."""
    of_day = Rehearsal.objects.filter(day=day).order_by("-pk")
    finished = of_day.exclude(finished_at=None)
    done = finished.filter(why="").first()
    last = finished.defer("found").first()
    return Shown(
        found=Rehearsed.from_json(done.found) if done and done.found else None,
        rehearsal=done,
        under_way=of_day.filter(finished_at=None).first(),
        failed=last if last and last.why else None,
    )


def lately() -> list[Rehearsal]:
    """The latest rehearsal of each day of which one is kept, by day. One statement."""
    kept = Rehearsal.objects.exclude(finished_at=None).filter(why="").defer("found").order_by("pk")
    return sorted({one.day: one for one in kept}.values(), key=lambda one: one.day)


def pieces_of(examples: Sequence[Sequence[Travelling]]) -> dict[int, Piece]:
    """The pieces of some letters by id, with their owners as they are now. One statement."""
    ids = {one.piece for letter in examples for one in letter}
    return Piece.objects.select_related("owner").in_bulk(ids)
