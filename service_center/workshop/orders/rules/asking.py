"""Whether an owner has to be asked before the bench. Source: design/workshop.md; common practice."""

from collections.abc import Collection


def is_to_be_asked(*, signed_for_all: bool, covered: Collection[bool]) -> bool:
    """A suggestion for whoever looked at the piece: no where the owner signed for the whole at the counter, and nothing
    was found beyond that which they would pay for. `covered`: whether a guarantee pays for each finding.
    """
    return not signed_for_all or not all(covered)
