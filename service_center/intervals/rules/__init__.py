"""When a piece is due, and why. Source: design/due-dates.md; nothing here knows a database or a clock.

`due_dates` is the door: the facts of one piece and the house's rules in, one `Due` a kind out.
"""

from service_center.intervals.rules.choosing import HOUSE_DEFAULTS, Rule, Scope, rule_for
from service_center.intervals.rules.due import Due, State, due_dates, state_on
from service_center.intervals.rules.facts import Entry, PieceFacts
from service_center.intervals.rules.months import add_months
from service_center.intervals.rules.start import Owed, Start, StartFact, overhaul_start, tightness_owed, tightness_start

__all__ = [
    "HOUSE_DEFAULTS",
    "Due",
    "Entry",
    "Owed",
    "PieceFacts",
    "Rule",
    "Scope",
    "Start",
    "StartFact",
    "State",
    "add_months",
    "due_dates",
    "overhaul_start",
    "rule_for",
    "state_on",
    "tightness_owed",
    "tightness_start",
]
