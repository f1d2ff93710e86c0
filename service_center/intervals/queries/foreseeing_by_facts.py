"""What a change of the rules would do to pieces whose readings may matter: worked out from the facts, piece by piece."""

from collections.abc import Sequence
from datetime import date

from django.conf import settings

from service_center.book.rules import ServiceKind
from service_center.intervals.models import ForeseenDue
from service_center.intervals.queries.facts import BATCH, facts_of
from service_center.intervals.queries.look import Look
from service_center.intervals.rules import Due, due_dates
from service_center.intervals.rules.rulebook import invitation_day

MONTH_DAYS = 365.25 / 12


def add_by_facts(pieces: Sequence[int], look: Look) -> None:
    """Rows of `ForeseenDue` for these pieces. Four statements for every 2,000."""
    for at in range(0, len(pieces), BATCH):
        rows = []
        for pk, facts in facts_of(pieces[at : at + BATCH]).items():
            known = facts.known_on(look.as_of)
            before, after = (
                {due.kind: due for due in due_dates(known, rules, look.on, shelf_months=settings.SHELF_MONTHS)}
                for rules in (look.before, look.after)
            )
            kinds = look.kinds_of(known) & (set(before) | set(after))
            rows += [_row(pk, kind, before.get(kind), after.get(kind), look) for kind in kinds]
        ForeseenDue.objects.bulk_create(rows)


def _row(piece: int, kind: ServiceKind, before: Due | None, after: Due | None, look: Look) -> ForeseenDue:
    due = after or before
    assert due is not None  # the kind applies before or after
    return ForeseenDue(
        piece_id=piece,
        kind=kind.value,
        starts_on=due.start.on if due.start else None,
        owed_since=due.owed_since,
        held=due.held,
        applied=before is not None,
        applies=after is not None,
        opens_before=before.opens_on if before else None,
        due_before=before.due_on if before else None,
        closes_before=before.closes_on if before else None,
        opens_after=after.opens_on if after else None,
        due_after=after.due_on if after else None,
        closes_after=after.closes_on if after else None,
        months=_months_moved(before, after),
        invited_before=_invitation(before, look),
        invited_after=_invitation(after, look),
    )


def _months_moved(before: Due | None, after: Due | None) -> int | None:
    if before is None or after is None or before.due_on is None or after.due_on is None or after.owed_since:
        return None
    if before.evidence is None and after.evidence is None:
        return after.rule.due - before.rule.due
    # A trend has its own day, which no rule counted in months.
    return round((after.due_on - before.due_on).days / MONTH_DAYS)


def _invitation(due: Due | None, look: Look) -> date | None:
    if due is None or due.opens_on is None or due.due_on is None:
        return None
    return invitation_day(
        due.kind,
        opens_on=due.opens_on,
        due_on=due.due_on,
        owed_since=due.owed_since,
        days_before_due=look.days_before_due,
    )
