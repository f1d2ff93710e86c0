"""When a piece is due, and why. Source: design/due-dates.md; nothing here knows a database or a clock.

`due_dates` is the door: the facts of one piece and the house's rules in, one `Due` a kind out. `because` says why.
"""

from service_center.intervals.rules.because import Because, because
from service_center.intervals.rules.choosing import HOUSE_DEFAULTS, Rule, Scope, default_for, rule_for
from service_center.intervals.rules.due import Dates, Due, State, dates_by_rule, due_dates, state_on
from service_center.intervals.rules.evidence import Evidence, EvidenceFact, Series, evidence_from_record, series_after
from service_center.intervals.rules.facts import Amplitude, Entry, Move, PieceFacts
from service_center.intervals.rules.months import add_months
from service_center.intervals.rules.start import (
    Owed,
    OwedFact,
    Start,
    StartFact,
    overhaul_start,
    owed_because,
    tightness_owed,
    tightness_start,
)

__all__ = [
    "HOUSE_DEFAULTS",
    "Amplitude",
    "Because",
    "Dates",
    "Due",
    "Entry",
    "Evidence",
    "EvidenceFact",
    "Move",
    "Owed",
    "OwedFact",
    "PieceFacts",
    "Rule",
    "Scope",
    "Series",
    "Start",
    "StartFact",
    "State",
    "add_months",
    "because",
    "dates_by_rule",
    "default_for",
    "due_dates",
    "evidence_from_record",
    "overhaul_start",
    "owed_because",
    "rule_for",
    "series_after",
    "state_on",
    "tightness_owed",
    "tightness_start",
]
