"""What the round of a day would do, read without writing and without locking anybody out."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date

from django.conf import settings

from service_center.book.models import Owner
from service_center.book.rules import ServiceKind
from service_center.letters.calendars import working_days
from service_center.letters.queries.held_rounds import rounds_before
from service_center.letters.queries.rounds import look_for_owners, owners_before_round, within_reach
from service_center.letters.rules.deciding import NotWritten, Reason, decide
from service_center.letters.rules.steps import Planned
from service_center.letters.rules.unusual import Asked, unusual_day, unusually_many
from service_center.letters.rules.words import Step, Unusual

OWNERS_AT_ONCE = 200
OWNERS_AT_MOST = 2_000  # some seconds of a page; a larger round is told of by its first owners
EXAMPLES = 25


@dataclass(slots=True)
class Rehearsal:
    """A round as it would be. `owners` have something to come; the rest speaks of the first `looked_at` of them."""

    owners: int = 0
    looked_at: int = 0
    letters: int = 0
    joined: int = 0
    steps: Counter[tuple[ServiceKind, Step]] = field(default_factory=Counter)
    reasons: Counter[Reason] = field(default_factory=Counter)
    not_written: list[NotWritten] = field(default_factory=list)
    examples: list[tuple[Owner, tuple[Planned, ...]]] = field(default_factory=list)
    unusual: Unusual | None = None

    @property
    def whole(self) -> bool:
        return self.looked_at == self.owners


def rehearse(as_of: date) -> Rehearsal:
    """The round of a day from the due dates as they are stored, of the first 2,000 owners. Seven statements for 200."""
    found = Rehearsal()
    ids = look_for_owners(as_of, lambda _beyond_reach: None)
    found.owners, looked_at = len(ids), ids[:OWNERS_AT_MOST]
    found.looked_at = len(looked_at)
    for at in range(0, len(looked_at), OWNERS_AT_ONCE):
        for before in owners_before_round(within_reach(looked_at[at : at + OWNERS_AT_ONCE]), as_of):
            decision = decide(before.side, as_of, working_days(before.country))
            found.reasons.update(one.reason for one in decision.not_written)
            found.not_written += decision.not_written[: max(0, EXAMPLES - len(found.not_written))]
            if not decision.reminders:
                continue
            found.letters += decision.joins is None
            found.joined += decision.joins is not None
            found.steps.update((one.service.kind, one.step) for one in decision.reminders)
            if len(found.examples) < EXAMPLES:
                found.examples.append((before.owner, decision.reminders))
    before_it = rounds_before()
    found.unusual = unusual_day(as_of, before_it, Asked.BY_CLOCK)
    at_least = settings.ROUND_LETTERS_USUAL
    if found.unusual is None and unusually_many(found.letters, before_it, Asked.BY_CLOCK, at_least=at_least):
        found.unusual = Unusual.MANY
    return found
