"""The steps of a work order, and which move follows on which. Source: design/workshop.md, work orders."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from service_center.book.rules import EntryKind


class Step(StrEnum):
    """Where an order stands."""

    LOGGED = "logged"  # at the boutique
    RECEIVED = "received"  # at the workshop
    DIAGNOSED = "diagnosed"
    ESTIMATED = "estimated"  # the owner is asked
    AGREED = "agreed"
    DECLINED = "declined"
    ON_THE_BENCH = "on_the_bench"
    UNDER_CONTROL = "under_control"
    READY = "ready"
    HANDED_BACK = "handed_back"


# What an order of each kind needs at the least, in its order. Common practice: a strap is changed at the counter, and a
# tightness check opens no case. The estimate comes between diagnosis and bench where the owner has to be asked.
NEEDED: dict[EntryKind, tuple[Step, ...]] = {
    EntryKind.OVERHAUL: (Step.LOGGED, Step.RECEIVED, Step.DIAGNOSED, Step.ON_THE_BENCH, Step.UNDER_CONTROL, Step.READY),
    EntryKind.REPAIR: (Step.LOGGED, Step.RECEIVED, Step.DIAGNOSED, Step.ON_THE_BENCH, Step.UNDER_CONTROL, Step.READY),
    EntryKind.BATTERY: (Step.LOGGED, Step.RECEIVED, Step.ON_THE_BENCH, Step.UNDER_CONTROL, Step.READY),
    EntryKind.TIGHTNESS_CHECK: (Step.LOGGED, Step.RECEIVED, Step.UNDER_CONTROL, Step.READY),
    EntryKind.STRAP: (Step.LOGGED, Step.READY),
}

# Going back is no mistake, but it has a reason: a control failed, the bench found more, the owner was asked anew.
BACK: dict[Step, frozenset[Step]] = {
    Step.ESTIMATED: frozenset({Step.DIAGNOSED}),
    Step.AGREED: frozenset({Step.DIAGNOSED}),
    Step.DECLINED: frozenset({Step.DIAGNOSED}),
    Step.ON_THE_BENCH: frozenset({Step.DIAGNOSED}),
    Step.UNDER_CONTROL: frozenset({Step.DIAGNOSED, Step.ON_THE_BENCH}),
    Step.READY: frozenset({Step.DIAGNOSED, Step.ON_THE_BENCH, Step.UNDER_CONTROL}),
}


@dataclass(frozen=True, slots=True)
class Standing:
    """What decides where an order may go: its kind, its step, whether the owner has to be asked before the bench, and
    whether its case was opened here. `asks_owner` None: the diagnosis has not said."""

    kind: EntryKind
    step: Step
    asks_owner: bool | None = None
    case_opened: bool = False


def route(standing: Standing) -> tuple[Step, ...]:
    """Every step the order needs, first to last."""
    needed = [*NEEDED[standing.kind], Step.HANDED_BACK]
    if standing.step is Step.DECLINED:
        # Nothing more is done; a case that was opened is closed and controlled before it goes out.
        through = (Step.UNDER_CONTROL,) if standing.case_opened else ()
        return (*_until_asked(needed), Step.ESTIMATED, Step.DECLINED, *through, Step.READY, Step.HANDED_BACK)
    if standing.asks_owner or standing.step in (Step.ESTIMATED, Step.AGREED):
        asked = _until_asked(needed)
        return (*asked, Step.ESTIMATED, Step.AGREED, *(step for step in needed if step not in asked))
    if standing.step is Step.DIAGNOSED and Step.DIAGNOSED not in needed:
        asked = _until_asked(needed)
        return (*asked, Step.DIAGNOSED, *(step for step in needed if step not in asked))
    return tuple(needed)


def _until_asked(needed: Sequence[Step]) -> tuple[Step, ...]:
    """The steps before the owner is asked. Whatever the kind, nobody is asked before the piece was looked at."""
    before = tuple(step for step in needed if step in (Step.LOGGED, Step.RECEIVED))
    return (*before, Step.DIAGNOSED)


class CannotMove(ValueError):  # noqa: N818  # a refusal, named as the workshop would say it
    """A move that the order does not allow."""


class Over(CannotMove):
    """The order is closed."""


class Skips(CannotMove):
    """The order needs another step first."""

    def __init__(self, needed: Step) -> None:
        self.needed = needed
        super().__init__(needed.value)


class NoWay(CannotMove):
    """No way leads from this step to that."""


class NeedsAReason(CannotMove):
    """Going back is written down with its reason."""


def check_move(standing: Standing, to: Step, *, reason: str = "") -> None:
    """Raise what refuses the move; return where it is allowed.

    Forward to the next step of the route; to an answer only from the estimate; to the estimate from wherever somebody
    has looked at the piece; back as BACK says, with a reason.
    """
    here = standing.step
    if here is Step.HANDED_BACK:
        raise Over(here.value)
    if to in BACK.get(here, frozenset()):
        if not reason.strip():
            raise NeedsAReason(to.value)
        return
    if to not in _FROM:
        _check_forward(standing, to)
    elif here not in _FROM[to]:
        raise Skips(next_step(standing) or Step.AGREED) if to is Step.ESTIMATED else Skips(Step.ESTIMATED)


# Answers come from the estimate. An estimate is written wherever somebody has looked at the piece, also anew: a later
# one replaces the one before.
_FROM: dict[Step, frozenset[Step]] = {
    Step.AGREED: frozenset({Step.ESTIMATED}),
    Step.DECLINED: frozenset({Step.ESTIMATED}),
    Step.ESTIMATED: frozenset({Step.DIAGNOSED, Step.ESTIMATED, Step.DECLINED}),
}


def _check_forward(standing: Standing, to: Step) -> None:
    here = standing.step
    if to is Step.DIAGNOSED and here is Step.RECEIVED:
        return  # whoever looks closer than the kind of order asks may say what they saw
    following = next_step(standing)
    if to is following:
        return
    if following is None:
        raise Skips(Step.AGREED)
    way = route(standing)
    if to not in way or way.index(to) <= way.index(here):
        raise NoWay(to.value)
    raise Skips(following)


def next_step(standing: Standing) -> Step | None:
    """The step that the order needs next; None after the last, and while the owner is asked."""
    if standing.step in (Step.HANDED_BACK, Step.ESTIMATED):
        return None
    way = route(standing)
    return way[way.index(standing.step) + 1]
