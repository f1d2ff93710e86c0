"""Words of planning that the database keeps."""

from enum import StrEnum


class ReckoningSort(StrEnum):
    """What the worker is asked to work out."""

    PICTURE = "picture"  # the weeks as they are planned, and the proposal
    ACCEPT = "accept"  # make the proposal the plan
    WHAT_IF = "what_if"


class Outcome(StrEnum):
    """How it ended."""

    DONE = "done"
    NOT_PROVED = "not_proved"  # the solver could not prove its answer
    NOT_AS_SEEN = "not_as_seen"  # the proposal to accept is no longer the one that was seen
    FAILED = "failed"
