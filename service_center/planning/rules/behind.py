"""Which orders and which invitations stand behind one week's hours."""

from collections.abc import Sequence
from dataclasses import dataclass

from service_center.planning.rules.picture import SkillWeeks


@dataclass(frozen=True, slots=True)
class OrderPart:
    """The hours of one order (its key) that fall into the week."""

    key: int
    hours: float


@dataclass(frozen=True, slots=True)
class InvitedPart:
    """Pieces to invite in a week (its number), and how many of them, and hours, are expected in the week asked for."""

    week: int
    pieces: int
    expected: float
    hours: float


def orders_of_week(promised: Sequence[float], orders: Sequence[tuple[int, float]], at: int) -> list[OrderPart]:
    """Orders (key, hours) fill the promised hours of the weeks one after the other, in the order given."""
    begins = sum(promised[:at])
    ends = begins + promised[at]
    found, upto = [], 0.0
    for key, hours in orders:
        part = min(ends, upto + hours) - max(begins, upto)
        if part > 1e-9:
            found.append(OrderPart(key, part))
        upto += hours
    return found


def invited_for(one: SkillWeeks, at: int) -> list[InvitedPart]:
    """The weeks whose invitations, as planned now, bring pieces in the week `at`."""
    found = []
    for week in range(max(0, at - len(one.answers) + 1), at + 1):
        pieces, share = one.invited_before[week], one.answers[at - week]
        if pieces and share:
            found.append(InvitedPart(week, pieces, pieces * share, pieces * share * one.hours))
    return found
