"""Yesterday's backup is brought back: what went out since does not go again (reliability.md, F10)."""

import signal
from collections.abc import Callable

import pytest

from tests.faults.checker import assert_sent_once, check
from tests.faults.houses import House, Patterns, wait_until

pytestmark = pytest.mark.servers
OpenHouse = Callable[..., House]
LATER = "2019-04-15"  # a Monday, 60 days before the second half falls due


def prepared(open_house: OpenHouse) -> House:
    """Thirty letters written, ten of them sent; twelve owners more to whom a later round will write."""
    house = open_house(owners=30)
    house.do("fill", owners=12, first=500, sold_on="2012-06-14")
    house.written()
    send_only(house, 10)
    return house


def send_only(house: House, count: int) -> None:
    """Send that many of the letters that wait."""
    house.write("UPDATE letters_letter SET state = 'held' WHERE state = 'waiting'")
    house.write(
        "UPDATE letters_letter SET state = 'waiting' WHERE id IN "
        f"(SELECT id FROM letters_letter WHERE state = 'held' ORDER BY id LIMIT {count})"
    )
    assert house.do("send")["sent"] == count
    house.write("UPDATE letters_letter SET state = 'waiting' WHERE state = 'held'")


def test_letters_that_went_out_after_the_backup_are_known_and_only_the_rest_goes(
    open_house: OpenHouse, patterns: Patterns
) -> None:
    house = prepared(open_house)
    with patterns.backup(house) as restored:
        # The day goes on: eight of the letters in the backup go out, and a later round's twelve as well.
        send_only(house, 8)
        assert house.do("round", day=LATER)["letters"] == 12
        house.write("UPDATE letters_letter SET not_before = '2031-01-01' WHERE planned_on = '2019-03-18'")
        assert house.do("send", until_settled=False)["sent"] == 12
        assert len(house.sink.messages) == 30
        # Then the machine is lost, and the backup is brought back.
        told = restored.do("after_restore")
        letters = {"held": 20, "in_doubt": 0, "marked_sent": 8, "written_as_sent": 12, "known": 10, "unknown": 0}
        assert {name: told[name] for name in letters} == letters
        assert restored.do("send", until_settled=False)["sent"] == 0
        assert check(restored).by_state == {"sent": 30, "held": 12}
        assert restored.do("round", day=LATER)["letters"] == 0
        assert restored.do("after_restore", go_on=True) == {"released": 12}
        assert restored.do("send")["sent"] == 12
        assert assert_sent_once(restored, letters=42).by_state["sent"] == 42


def test_the_links_of_letters_that_went_out_after_the_backup_still_open(
    open_house: OpenHouse, patterns: Patterns
) -> None:
    house = prepared(open_house)
    with patterns.backup(house) as restored:
        send_only(house, 8)
        restored.do("after_restore")
        links = "SELECT purpose, token_hash, letter_id FROM letters_ownerlink ORDER BY token_hash"
        assert restored.rows(links) == house.rows(links)


def test_a_letter_that_was_in_hand_when_the_backup_was_made_is_held_and_one_at_the_dot_is_in_doubt(
    open_house: OpenHouse, patterns: Patterns
) -> None:
    house = prepared(open_house)
    hand, dot = [letter for (letter,) in house.rows("SELECT id FROM letters_letter WHERE state = 'waiting' LIMIT 2")]
    for letter, state in ((hand, "handing_over"), (dot, "at_the_dot")):
        house.write(
            f"UPDATE letters_letter SET state = '{state}', attempt = 1, lease_until = '2019-03-18' WHERE id = {letter}"
        )
    with patterns.backup(house) as restored:
        assert restored.do("after_restore")["in_doubt"] == 1
        assert (restored.state_of(hand), restored.state_of(dot)) == ("held", "in_doubt")


def test_a_replay_that_is_cut_off_and_a_journal_that_was_torn_lose_nothing(
    open_house: OpenHouse, patterns: Patterns
) -> None:
    house = prepared(open_house)
    with patterns.backup(house) as restored:
        send_only(house, 8)
        journal = house.folder / "sent.journal"
        # The power went while a line was written, and another sender wrote on.
        whole = journal.read_text().strip().split("\n\n")
        journal.write_text("\n" + '{"letter": 7, "own' + "".join(f"\n{line}\n" for line in whole))
        cut_off = restored.start("after_restore", faults="replay:exit:4")
        cut_off.wait(30)
        assert not cut_off.spoke
        told = restored.do("after_restore")
        assert (told["marked_sent"] + told["known"], told["unknown"]) == (18, 0)
        assert check(restored).by_state == {"sent": 18, "held": 12}
        again = restored.do("after_restore")
        assert (again["marked_sent"], again["known"]) == (0, 18)
        restored.do("after_restore", go_on=True)
        restored.do("send")
        assert_sent_once(restored, letters=30)


@pytest.mark.parametrize("point", ["round_begun", "round_ending"])
def test_a_round_that_is_under_way_while_letters_are_held_is_held_too_and_is_no_word_about_later_ones(
    open_house: OpenHouse, point: str
) -> None:
    house = prepared(open_house)
    under_way = house.start("round", faults=f"{point}:stop", day=LATER)
    wait_until(lambda: under_way.stopped, seconds=20, what=f"asleep at {point}")
    house.do("after_restore")
    under_way.signal(signal.SIGCONT)
    assert under_way.told(60) == {"reminders": 12, "letters": 12, "held": "restored"}
    assert house.do("send", until_settled=False)["sent"] == 0
    assert house.do("round", day="2019-04-16", by="by_clock")["held"] == "restored"
