"""Reading: facts for the rules, one piece's due dates from them, and the stored due dates for people."""

from service_center.intervals.queries.facts import (
    BATCH,
    as_rule,
    due_and_readings_of,
    due_by_serial,
    due_of,
    facts_of,
    house_rules,
    pieces_with_facts_between,
)
from service_center.intervals.queries.listing import (
    AT_MOST,
    DueFilters,
    DuePage,
    DueRow,
    all_due,
    counts_by_state,
    due_page,
    in_state,
    stored_due,
)

__all__ = [
    "AT_MOST",
    "BATCH",
    "DueFilters",
    "DuePage",
    "DueRow",
    "all_due",
    "as_rule",
    "counts_by_state",
    "due_and_readings_of",
    "due_by_serial",
    "due_of",
    "due_page",
    "facts_of",
    "house_rules",
    "in_state",
    "pieces_with_facts_between",
    "stored_due",
]
