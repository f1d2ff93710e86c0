"""Why a line that the desk fixed cannot be kept."""

from dataclasses import dataclass
from enum import StrEnum

from service_center.planning.rules.week_plan.week import Place


class Why(StrEnum):
    """Why a fixed line cannot be kept."""

    NO_BENCH = "no_bench"  # no such watchmaker this week
    SKILL = "skill"  # they may not do such a calibre
    NOT_THERE = "not_there"  # they are not there on that day, or it is not of this week
    RELEASED = "released"  # the piece cannot be on a bench by then
    SEQUENCE = "sequence"  # another fixed line of the order, or a wait, stands against it
    HOURS = "hours"  # it does not fit into the day, with what else is fixed there
    PAST = "past"  # its day is over, and it was not done
    BEFORE = "before"  # what comes before it finds no place until then


@dataclass(frozen=True, slots=True)
class Impossible:
    """A fixed line that is not kept."""

    task: int
    place: Place
    why: Why
