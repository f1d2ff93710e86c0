"""Copies of a book lie about for as long as they are worked on, and a finished file gets its name once."""

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from service_center.keeping.room import give_name, room_in
from tests.faults.houses import PLACE

DYING = """
import os, sys
from pathlib import Path
from service_center.keeping.room import room_in
with room_in(Path(sys.argv[1])) as room:
    (room / "copy.sqlite3").write_text("an owner")
    os.kill(os.getpid(), 9)
"""


def test_it_is_gone_afterwards_and_for_nobody_elses_eyes(tmp_path: Path) -> None:
    with room_in(tmp_path) as room:
        (room / "copy").write_text("an owner")
        assert room.stat().st_mode & 0o077 == 0
    assert not list(tmp_path.iterdir())


def test_what_a_killed_process_left_is_cleared_away_by_the_next(tmp_path: Path) -> None:
    dead = subprocess.run([sys.executable, "-c", DYING, str(tmp_path)], cwd=PLACE, check=False)
    assert dead.returncode == -signal.SIGKILL
    assert len(list(tmp_path.iterdir())) == 1
    with room_in(tmp_path) as room:
        assert list(tmp_path.iterdir()) == [room]


def test_what_another_works_on_stays(tmp_path: Path) -> None:
    with room_in(tmp_path) as first, room_in(tmp_path) as second:
        assert sorted(tmp_path.iterdir()) == sorted([first, second])


def test_a_file_never_takes_the_place_of_another(tmp_path: Path) -> None:
    beside, target = tmp_path / "beside", tmp_path / "house.zip"
    beside.write_text("new")
    target.write_text("old")
    with pytest.raises(FileExistsError):
        give_name(beside, target)
    assert target.read_text() == "old"


def test_nor_where_the_disk_knows_one_name_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As FAT answers; no such disk can be counted on where the tests run."""

    def refuse(*_names: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    beside, target = tmp_path / "beside", tmp_path / "house.zip"
    beside.write_text("new")
    give_name(beside, target)
    assert target.read_text() == "new"
    beside.write_text("newer")
    with pytest.raises(FileExistsError):
        give_name(beside, target)
    assert target.read_text() == "new"
