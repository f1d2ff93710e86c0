"""Files to which lines are only added: whole lines, or a loud refusal."""

import os
import resource
import signal
import stat
from pathlib import Path

import pytest

from service_center.access.added_lines import add_line, opened_to_add


def test_a_line_stands_alone_even_behind_one_that_was_torn(tmp_path: Path) -> None:
    place = tmp_path / "some.journal"
    place.write_text('\n{"whole": 1}\n\n{"torn": ')
    handle = opened_to_add(place)
    add_line(handle, '{"next": 2}')
    os.close(handle)
    assert [line for line in place.read_text().splitlines() if line] == ['{"whole": 1}', '{"torn": ', '{"next": 2}']


def test_a_new_file_is_for_the_houses_eyes_only(tmp_path: Path) -> None:
    place = tmp_path / "some.journal"
    os.close(opened_to_add(place))
    assert stat.S_IMODE(place.stat().st_mode) == 0o600


def test_a_line_of_which_only_a_part_has_room_is_an_error(tmp_path: Path) -> None:
    place = tmp_path / "some.journal"
    handle = opened_to_add(place)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (10, hard))  # a file may grow no further: as a disk that fills
    try:
        with pytest.raises(OSError, match="only a part"):
            add_line(handle, "x" * 40)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, before)
        os.close(handle)
    assert place.stat().st_size == 10
