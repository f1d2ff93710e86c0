"""Where an order may go next, and what refuses the rest."""

import pytest

from service_center.book.rules import EntryKind
from service_center.workshop.orders.rules.steps import (
    CannotMove,
    NeedsAReason,
    NoWay,
    Over,
    Skips,
    Standing,
    Step,
    check_move,
    next_step,
    route,
)


def at(step: str, kind: str = "overhaul", **more: bool | None) -> Standing:
    return Standing(EntryKind(kind), Step(step), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("kind", "steps"),
    [
        ("overhaul", "logged received diagnosed on_the_bench under_control ready handed_back"),
        ("repair", "logged received diagnosed on_the_bench under_control ready handed_back"),
        ("battery", "logged received on_the_bench under_control ready handed_back"),
        ("tightness_check", "logged received under_control ready handed_back"),
        ("strap", "logged ready handed_back"),
    ],
)
def test_an_order_needs_the_steps_of_its_kind(kind: str, steps: str) -> None:
    assert list(route(at("logged", kind))) == steps.split()


def test_an_owner_who_has_to_be_asked_is_asked_before_the_bench() -> None:
    steps = "logged received diagnosed estimated agreed on_the_bench under_control ready handed_back"
    assert list(route(at("diagnosed", asks_owner=True))) == steps.split()
    with pytest.raises(Skips) as refused:
        check_move(at("diagnosed", asks_owner=True), Step.ON_THE_BENCH)
    assert refused.value.needed is Step.ESTIMATED


def test_nothing_is_done_at_the_bench_while_the_owner_is_asked() -> None:
    assert next_step(at("estimated")) is None
    with pytest.raises(Skips) as refused:
        check_move(at("estimated"), Step.ON_THE_BENCH)
    assert refused.value.needed is Step.AGREED


def test_a_declined_order_goes_back_undone_and_is_controlled_where_its_case_was_opened() -> None:
    assert next_step(at("declined")) is Step.READY
    assert next_step(at("declined", case_opened=True)) is Step.UNDER_CONTROL
    with pytest.raises(CannotMove):
        check_move(at("declined"), Step.ON_THE_BENCH)


@pytest.mark.parametrize(
    ("here", "to", "needed"),
    [
        ("logged", "on_the_bench", "received"),
        ("received", "on_the_bench", "diagnosed"),
        ("on_the_bench", "ready", "under_control"),
        ("under_control", "handed_back", "ready"),
        ("received", "estimated", "diagnosed"),
        ("diagnosed", "agreed", "estimated"),
    ],
)
def test_a_move_that_skips_a_step_names_the_step(here: str, to: str, needed: str) -> None:
    with pytest.raises(Skips) as refused:
        check_move(at(here), Step(to))
    assert refused.value.needed.value == needed


def test_going_back_has_a_reason() -> None:
    with pytest.raises(NeedsAReason):
        check_move(at("under_control"), Step.ON_THE_BENCH)
    check_move(at("under_control"), Step.ON_THE_BENCH, reason="The date jumps at noon.")


def test_an_order_that_was_handed_back_goes_nowhere() -> None:
    with pytest.raises(Over):
        check_move(at("handed_back"), Step.READY, reason="Once more.")


def test_no_way_leads_back_to_reception() -> None:
    with pytest.raises(NoWay):
        check_move(at("on_the_bench"), Step.RECEIVED)


def test_a_tightness_check_that_fails_can_be_looked_into_and_estimated() -> None:
    check_move(at("under_control", "tightness_check"), Step.DIAGNOSED, reason="It leaks at the crown.")
    check_move(at("diagnosed", "tightness_check"), Step.ESTIMATED)


@pytest.mark.parametrize("kind", list(EntryKind))
@pytest.mark.parametrize("asks", [True, False, None])
def test_every_order_comes_to_its_end_by_its_next_steps(kind: EntryKind, asks: bool | None) -> None:
    """Whatever the kind and the answer: one step after the other leads to the hand-back, and each is allowed."""
    for answer in (Step.AGREED, Step.DECLINED):
        step, seen = Step.LOGGED, [Step.LOGGED]
        while step is not Step.HANDED_BACK:
            standing = Standing(kind, step, asks)
            to = answer if step is Step.ESTIMATED else next_step(standing)
            assert to is not None
            check_move(standing, to)
            step = to
            seen.append(step)
        assert len(seen) == len(set(seen))
