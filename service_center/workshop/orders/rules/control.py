"""What an order still lacks before its piece is ready. Source: design/workshop.md, going out; measurement.md."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import StrEnum

from service_center.book.rules import EntryKind
from service_center.workshop.orders.rules.operations import Operation


class Lack(StrEnum):
    """What is missing. Readings out of their limits can be let go with a reason; the rest cannot."""

    OPERATION = "operation"  # not finished
    READINGS = "readings"  # none since the work
    POSITION = "position"  # read when it came in, not read now
    TIGHTNESS = "tightness"  # not tested through since the case was last opened
    FAILED = "failed"  # tested, and it leaks
    OUT_OF_LIMITS = "out_of_limits"


@dataclass(frozen=True, slots=True)
class Missing:
    """One thing missing, and of what: an operation, a position (ISO 3158), a figure of the sheet."""

    lack: Lack
    what: str = ""


@dataclass(frozen=True, slots=True)
class Measured:
    """What is known of the piece since it came in. `positions_before` and `positions_after`: (position, wind) as read at
    intake and after the work; `out_of_limits`: figures of the sheet after the work. `tight` None: not tested through."""

    read_after: bool
    positions_before: Collection[tuple[str, str]]
    positions_after: Collection[tuple[str, str]]
    out_of_limits: Sequence[str]
    tight: bool | None


# Work after which rate and amplitude are read again.
READ_AGAIN = frozenset({EntryKind.OVERHAUL, EntryKind.REPAIR})


def missing_for(
    kind: EntryKind,
    unfinished: Sequence[Operation],
    measured: Measured,
    *,
    mechanical: bool,
    rated: bool,
    case_opened: bool,
    declined: bool,
) -> list[Missing]:
    """What an order lacks before it is ready; nothing: it may leave.

    What was measured at intake is measured again: every position read then is read now. A declined order owes no work
    and no readings; a case that was opened is tested all the same.
    """
    found = []
    if not declined:
        found += [Missing(Lack.OPERATION, one.value) for one in unfinished]
        if mechanical and (kind in READ_AGAIN or (case_opened and measured.positions_before)):
            found += _readings(measured)
    if rated and (case_opened or kind is EntryKind.TIGHTNESS_CHECK) and not (declined and not case_opened):
        if measured.tight is None:
            found.append(Missing(Lack.TIGHTNESS))
        elif not measured.tight:
            found.append(Missing(Lack.FAILED))
    return found


def _readings(measured: Measured) -> list[Missing]:
    if not measured.read_after:
        return [Missing(Lack.READINGS)]
    after = set(measured.positions_after)
    lost = [Missing(Lack.POSITION, f"{at} {wind}") for at, wind in measured.positions_before if (at, wind) not in after]
    return lost + [Missing(Lack.OUT_OF_LIMITS, figure) for figure in measured.out_of_limits]


def only_limits(missing: Sequence[Missing]) -> bool:
    """Whether nothing is missing but readings within their limits, which a watchmaker may let go with a reason."""
    return bool(missing) and all(one.lack is Lack.OUT_OF_LIMITS for one in missing)
