"""The disk is full: nothing half done, nothing twice, a word that says so, and on again once there is room (F12).

Full is a disk that takes nothing: `/dev/full` in a file's place (ENOSPC), or the kernel's limit on how large any file
of a process may grow (EFBIG), set and lifted from outside while it works. Neither needs a right to mount.
"""

import contextlib
import random
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.urls import reverse
from PIL import Image

from tests.faults.checker import assert_sent_once, check
from tests.faults.houses import SQLITE, Child, House, Patterns, disk_is_free, disk_is_full
from tests.faults.test_restore import LATER
from tests.faults.visitors import Visitor, hidden_fields
from tests.faults.works import environment
from tests.serving.processes import Site, started

pytestmark = pytest.mark.servers
OpenHouse = Callable[..., House]
LETTERS = 24
HURRY = {"LETTER_LEASE_SECONDS": 2, "MAIL_DOT_SECONDS": 2, "EMAIL_TIMEOUT": 10}
PASSWORD = "a password of these tests"


def journal_without_room(house: House) -> Path:
    place = house.folder / "sent.journal"
    place.unlink(missing_ok=True)
    place.symlink_to("/dev/full")
    return place


def size_of(house: House) -> int:
    return Path(urlsplit(house.url).path).stat().st_size


def stands_still(house: House) -> int:
    """How many letters are out, once two seconds have brought no more."""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        before = len(house.sink.messages)
        time.sleep(2)
        if len(house.sink.messages) == before:
            return before
    raise AssertionError("letters went out for a minute")


def assert_sound(house: House) -> None:
    if house.vendor == SQLITE:
        assert house.rows("PRAGMA integrity_check") == [("ok",)]
        assert house.rows("PRAGMA foreign_key_check") == []


def test_a_letter_that_the_journal_has_no_room_for_is_sent_all_the_same_and_the_log_says_so(
    open_house: OpenHouse,
) -> None:
    house = open_house(owners=6)
    house.do("fill", owners=2, first=500, sold_on="2012-06-14")
    house.written()
    place = journal_without_room(house)
    assert house.do("send")["sent"] == 6
    assert_sent_once(house, letters=6)
    assert house.log.count("went out, but is not in the sent journal") == 6
    assert "No space left on device" in house.log
    place.unlink()
    assert house.do("round", day=LATER)["letters"] == 2
    assert house.do("send")["sent"] == 2
    assert len(place.read_text().split()) > 2, "with room again, it is written"
    assert_sent_once(house, letters=8)


@pytest.mark.parametrize("room", ["none", "for the journals"])
def test_a_disk_that_fills_while_letters_go_out_sends_none_twice_and_the_sender_goes_on_by_itself(
    patterns: Patterns, room: str
) -> None:
    with patterns.house(SQLITE, owners=LETTERS, settings=HURRY) as house:
        house.written()
        at_work: Future[Child] = Future()
        left = 0 if room == "none" else size_of(house) // 4

        def think() -> float:
            """The disk is full before the server says that it has the sixth letter."""
            if house.sink.count == LETTERS // 4:
                at_work.result(60).disk_is_full(left)
            return 0.05

        house.sink.think = think
        sender = house.start("send")
        at_work.set_result(sender)
        house.sink.wait_for(LETTERS // 4, seconds=60)
        stands_at = stands_still(house)
        time.sleep(2)
        assert len(house.sink.messages) == stands_at < LETTERS, "no letter leaves without a claim that was written down"
        assert check(house).twice == []
        sender.disk_is_free()
        told = sender.told(60)
        assert told["errors"] > 0
        found = assert_sent_once(house, letters=LETTERS, kills=1)
        if room == "for the journals":
            assert found.by_state["in_doubt"] == 0, "the journal knew of the one at the dot"
        assert_sound(house)


def test_a_round_on_a_full_disk_is_run_again_and_writes_what_it_would_have(patterns: Patterns) -> None:
    with patterns.house(SQLITE, owners=600) as house:
        full = house.start("round", room=300_000, day="2019-03-18", owners_at_once=100)
        full.wait(60)
        assert not full.spoke
        assert "disk" in house.log
        assert house.rows("SELECT count(*) FROM letters_letter")[0][0] < 600
        assert_sound(house)
        house.do("round", day="2019-03-18")
        assert house.rows("SELECT count(*), count(DISTINCT owner_id) FROM letters_letter") == [(600, 600)]
        assert house.rows("SELECT count(*) FROM letters_reminder WHERE ended_on IS NULL") == [(600,)]


@pytest.mark.parametrize("full_at", ["the database", "the photographs"])
def test_a_backup_without_room_says_so_and_leaves_nothing_that_looks_like_one(
    open_house: OpenHouse, full_at: str
) -> None:
    house = open_house(owners=5)
    place = house.folder / "files" / "photographs" / "ab"
    place.mkdir(parents=True)
    (place / "abc-full.jpg").write_bytes(bytes(8_000_000))
    target = house.folder / "house.zip"
    room = 100_000 if full_at == "the database" else 6_000_000
    done = house.do("run", name="backup", arguments=[str(target)], room=room)
    assert done["code"] == 1
    assert "disk" in done["said"] or "too large" in done["said"]
    assert "Traceback" not in done["said"] + house.log
    assert "Exception ignored" not in house.log
    assert not target.exists()
    assert not list(house.folder.glob(".keeping-*"))
    assert house.do("run", name="backup", arguments=[str(target)])["code"] == 0
    assert house.do("run", name="verify_backup", arguments=[str(target)])["code"] == 0


def test_a_backup_that_cannot_be_brought_back_for_want_of_room_leaves_the_site_empty(open_house: OpenHouse) -> None:
    house = open_house(owners=5)
    place = house.folder / "files" / "photographs" / "ab"
    place.mkdir(parents=True)
    (place / "abc-full.jpg").write_bytes(bytes(3_000_000))
    target = house.folder / "house.zip"
    assert house.do("run", name="backup", arguments=[str(target)])["code"] == 0
    new = open_house()
    done = new.do("run", name="restore", arguments=[str(target)], room=200_000)
    assert done["code"] == 1
    assert "Traceback" not in done["said"] + new.log
    assert new.rows("SELECT count(*) FROM book_owner") == [(0,)]
    assert new.do("run", name="restore", arguments=[str(target)])["code"] == 0
    assert new.rows("SELECT count(*) FROM book_owner") == [(5,)]
    assert_sound(new)


@dataclass
class Counter:
    """A house on SQLite, served on one machine, and Ida who has signed in."""

    house: House
    site: Site
    ida: Visitor

    def begun(self, owner: int) -> int:
        """A drop-off of an owner's piece; its number."""
        serial = f"FH21-O{owner:05d}-0"
        [(piece,)] = self.house.rows(f"SELECT id FROM book_piece WHERE serial = '{serial}'")
        assert self.ida.post(reverse("intake:drop_off", args=[piece]), {}).status == 302
        [(draft,)] = self.house.rows(f"SELECT id FROM intake_draft WHERE piece_id = {piece}")
        return int(draft)

    def kept(self, draft: int) -> list[str]:
        """What is kept of a drop-off's steps."""
        return [str(said) for (said,) in self.house.rows(f"SELECT said FROM intake_draftstep WHERE draft_id = {draft}")]


@pytest.fixture(scope="module")
def counter(patterns: Patterns) -> Iterator[Counter]:
    with patterns.house(SQLITE, owners=3) as house:
        house.do("give_password", password=PASSWORD)
        house.do("no_round_today")
        with started("serve", house.folder, **environment(house)) as site:
            site.ready()
            threading.Thread(target=lambda: deque(site.process.stdout or (), maxlen=100), daemon=True).start()
            ida = Visitor(site.url)
            ida.sign_in("ida", PASSWORD)
            yield Counter(house, site, ida)


@contextlib.contextmanager
def full(site: Site, room: int = 0) -> Iterator[None]:
    """Every process of a site finds the disk full until the block ends; `room` is left for small files."""
    processes = [site.process.pid, *site.others()]
    for one in processes:
        disk_is_full(one, room)
    try:
        yield
    finally:
        for one in processes:
            disk_is_free(one)


def test_at_the_counter_nothing_that_was_typed_is_lost_and_it_is_sent_again_from_the_page(counter: Counter) -> None:
    house, ida, draft = counter.house, counter.ida, counter.begun(1)
    [(boutique,)] = house.rows("SELECT id FROM book_boutique")
    story = reverse("intake:step", args=[draft, "story"])
    said = {
        "asked": ["strap"],
        "owner_says": "It stops at night, \u201calways\u201d near <four>.",
        "boutique": str(boutique),
    }
    with full(counter.site):
        assert ida.get(reverse("today:home")).status == 200, "one can still read"
        answer = ida.post(story, said)
        assert answer.status == 503
        assert "this page has kept all that you typed" in answer.text
    assert_sound(house)
    assert counter.kept(draft) == []
    kept = hidden_fields(answer)
    assert ida.post(story, kept).status == 302
    [typed] = counter.kept(draft)
    assert "always" in typed


def noise(quality: int) -> bytes:
    """A picture that no program makes small, with the same pixels each time."""
    out, pixels = BytesIO(), random.Random(7).randbytes(1200 * 900 * 3)
    Image.frombytes("RGB", (1200, 900), pixels).save(out, "JPEG", quality=quality)
    return out.getvalue()


def test_a_photograph_without_room_is_refused_by_name_and_the_words_beside_it_are_kept(counter: Counter) -> None:
    house, ida, draft = counter.house, counter.ida, counter.begun(2)
    condition = reverse("intake:step", args=[draft, "condition"])
    said = {"add": "1", "condition_note": "A scratch on the crown guard."}
    # One finds no room as it comes in, the other when it is written anew, without what the camera put into it.
    two = {"large-as-sent.jpg": noise(95), "large-when-kept.jpg": noise(20)}
    with full(counter.site, room=280_000):
        answer = ida.post_files(condition, said, two, name="photographs")
        assert answer.status == 302
        page = ida.get(condition).text
        for name in two:
            assert f"{name} was not kept: the server could not write it." in page
    assert house.rows("SELECT count(*) FROM intake_photograph") == [(0,)]
    assert [file for file in (house.folder / "files").rglob("*") if file.is_file()] == []
    assert len(counter.kept(draft)) == 1
    assert ida.post_files(condition, said, two, name="photographs").status == 302
    assert house.rows("SELECT count(*) FROM intake_photograph") == [(2,)]
    assert_sound(house)
