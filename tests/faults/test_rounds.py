"""Rounds beside each other, and rounds that are killed: the same letters as from one round undisturbed (F5 and F6)."""

import random
import time
from collections.abc import Callable
from typing import Any

import pytest

from tests.faults.checker import assert_sent_once, told_sent
from tests.faults.houses import House

pytestmark = pytest.mark.servers
OpenHouse = Callable[..., House]
OWNERS, AT_ONCE = 50, 10
BATCHES = OWNERS // AT_ONCE


def written(house: House) -> list[tuple[Any, ...]]:
    """What rounds have written, without the numbers of rows."""
    return house.rows(
        "SELECT l.owner_id, l.planned_on, l.state, l.not_before, r.piece_id, r.kind, r.starts_on, r.step, r.due_on "
        "FROM letters_reminder r JOIN letters_letter l ON l.id = r.letter_id WHERE r.ended_on IS NULL "
        "ORDER BY r.piece_id, r.kind, r.step"
    )


def test_two_rounds_and_two_clocks_at_once_write_and_send_each_letter_once(open_house: OpenHouse) -> None:
    house = open_house(owners=OWNERS, pieces_each=2)
    rounds = [house.start("round", day="2019-03-18", owners_at_once=AT_ONCE) for _number in range(2)]
    clocks = [house.start("beat", day="2019-03-18", ticks=3) for _number in range(2)]
    results = [child.told(60) for child in rounds]
    sent = sum(child.told(60)["sent"] for child in clocks)
    assert sum(result["letters"] for result in results) <= OWNERS  # the clocks may have written some
    sent += house.do("send")["sent"]
    assert sent == OWNERS
    assert assert_sent_once(house, letters=OWNERS).by_state["sent"] == OWNERS
    assert len(written(house)) == 2 * OWNERS
    assert "Traceback" not in house.log


def test_a_round_that_ends_at_any_point_and_runs_again_writes_what_one_round_would(open_house: OpenHouse) -> None:
    house = open_house(owners=OWNERS, pieces_each=2)
    house.do("round", day="2019-03-18", owners_at_once=AT_ONCE)
    undisturbed = written(house)
    assert len(undisturbed) == 2 * OWNERS
    points = ["round_begun", "round_brought", "round_ending", *[f"round_batch:{nth}" for nth in range(1, BATCHES + 1)]]
    for point in points:
        forget(house)
        name, _, nth = point.partition(":")
        dying = house.start("round", faults=f"{name}:exit:{nth or 1}", day="2019-03-18", owners_at_once=AT_ONCE)
        dying.wait(30)
        assert not dying.spoke
        batches = {"round_ending": BATCHES, "round_batch": int(nth or 0) - 1}.get(name, 0)
        assert len(written(house)) == batches * AT_ONCE * 2, point
        house.do("round", day="2019-03-18", owners_at_once=AT_ONCE)
        assert written(house) == undisturbed, point


def test_rounds_killed_at_random_moments_while_letters_go_out(open_house: OpenHouse, chance: random.Random) -> None:
    house = open_house(owners=OWNERS)
    sender, kills = house.start("beat", day="2019-03-18", ticks=1), 0
    for _number in range(8):
        doomed = house.start("round", day="2019-03-18", owners_at_once=AT_ONCE)
        time.sleep(chance.uniform(0, 0.3))
        kills += doomed.kill()
    house.do("round", day="2019-03-18")
    last = house.start("send")
    last.wait(60)
    sender.wait(60)
    assert told_sent([sender, last]) == OWNERS
    assert_sent_once(house, letters=OWNERS)


def forget(house: House) -> None:
    """As before any round, with every due date still to be worked out."""
    tables = ("letters_ownerlink", "letters_reminder", "letters_letter", "letters_round")
    for table in (*tables, "intervals_duedate", "intervals_storeddays"):
        house.write(f"DELETE FROM {table}")
