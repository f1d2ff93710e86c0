"""Reading CSV files: what is understood, and how what is not is named by file, line and column."""

import io
import time
import tracemalloc

import pytest

from service_center.exchange.rules import FILES, CsvReader, UnreadableError

OWNERS = next(file for file in FILES if file.stem == "owners")
SKILLS = next(file for file in FILES if file.stem == "skills")
HEADER = "skill,hours_a_week,in_force_from"


def records(content: bytes, file=SKILLS) -> list[tuple[int, list[str]]]:
    reader = CsvReader(file, io.BytesIO(content))
    return [
        (line, [row[position] for position in reader.positions])
        for batch in reader.batches()
        for line, row in zip(batch.lines, batch.rows, strict=True)
    ]


def refusal(content: bytes, file=SKILLS) -> list[str]:
    with pytest.raises(UnreadableError) as caught:
        records(content, file)
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("delimiter", [",", ";"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_file_is_read_with_or_without_mark_with_comma_or_semicolon_and_any_line_end(
    mark: bytes, delimiter: str, end: str
) -> None:
    text = end.join([HEADER, "simple,40,2025-01-06", "", "automatic,,"]).replace(",", delimiter)
    assert records(mark + text.encode()) == [(2, ["simple", "40", "2025-01-06"]), (4, ["automatic", "", ""])]


def test_columns_may_stand_in_any_order() -> None:
    assert records(b"in_force_from,skill,hours_a_week\n2025-01-06,simple,40\n") == [(2, ["simple", "40", "2025-01-06"])]


def test_a_record_is_named_by_the_line_it_starts_on() -> None:
    text = HEADER + '\nsimple,"4\r\n0",x\n\nautomatic,"a\n\nb",\ncomplicated,,\n'
    assert [line for line, _row in records(text.encode())] == [2, 5, 8]


def test_unknown_missing_and_doubled_columns_are_refused_by_name() -> None:
    assert refusal(b"skill,hours_a_week,hours_a_week,colour\n") == [
        "skills.csv:1:colour: is not a column of this file",
        "skills.csv:1:in_force_from: this column is missing",
        "skills.csv:1:hours_a_week: this column is there 2 times",
    ]


def test_latin_1_is_named_by_line_and_column() -> None:
    rows = ["owner,name,email,phone,language,country,time_zone,letters", 'O-1,"two\nlines",,,,,,']
    rows += [f"O-{n},Ada,,,,,," for n in range(2, 3_000)]
    content = "\n".join([*rows, "O-3000,René Winter,,,,,,", ""]).encode("latin-1")
    assert refusal(content, OWNERS) == [
        'owners.csv:3002:name: is not UTF-8 (byte 0xE9 after "O-3000,Ren"); save the file as UTF-8'
    ]


def test_a_character_cut_off_at_the_end_of_a_file_is_not_utf_8() -> None:
    assert refusal((HEADER + "\nsimple,é").encode()[:-1]) == [
        'skills.csv:2:hours_a_week: is not UTF-8 (byte 0xC3 after "simple,"); save the file as UTF-8'
    ]


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_other_encodings_are_refused_on_the_first_line(encoding: str) -> None:
    (said,) = refusal(f"{HEADER}\nsimple,40,\n".encode(encoding))
    assert said.startswith("skills.csv:1: ")
    assert "UTF-8" in said


def test_a_spreadsheets_own_format_is_refused() -> None:
    assert refusal(b"PK\x03\x04\x14\x00") == [
        "skills.csv:1: is a zip archive or a spreadsheet's own format, not CSV; save it as CSV in UTF-8"
    ]


@pytest.mark.parametrize("content", [b"", b"\n", b"\xef\xbb\xbf\r\n"])
def test_a_file_without_a_header_is_refused(content: bytes) -> None:
    assert refusal(content) == ["skills.csv:1: has no header row"]


def test_a_record_of_another_width_is_a_fault_and_the_rest_is_read() -> None:
    reader = CsvReader(SKILLS, io.BytesIO(f"{HEADER}\nsimple,40\nautomatic,,\n".encode()))
    (batch,) = reader.batches()
    assert [str(fault) for fault in batch.skipped] == ["skills.csv:2: has 2 cells where the header has 3"]
    assert batch.lines == [3]


def test_a_quote_never_closed_is_named_where_its_record_starts() -> None:
    assert refusal(f'{HEADER}\nsimple,40,\nautomatic,"4,\n'.encode()) == [
        "skills.csv:3: a quoted cell that starts here or later is never closed"
    ]


def test_letters_after_a_closing_quote_are_not_guessed_at() -> None:
    assert refusal(f'{HEADER}\nsimple,"4"0,\n'.encode()) == [
        "skills.csv:2: after a closing quote comes neither a delimiter nor the end of the line"
    ]


class Endless(io.RawIOBase):
    """A file of some bytes over and over, which nobody has to hold."""

    def __init__(self, start: bytes, filling: bytes, size: int) -> None:
        self._start, self._filling, self._size, self._at = start, filling, size, 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, to: int, whence: int = 0) -> int:
        self._at = to if whence == 0 else self._at + to
        return self._at

    def tell(self) -> int:
        return self._at

    def readinto(self, buffer) -> int:
        size = min(len(buffer), self._size - self._at)
        if self._at < len(self._start):
            data = self._start[self._at :][:size]
        else:
            data = (self._filling * (size // len(self._filling) + 1))[:size]
        buffer[: len(data)] = data
        self._at += len(data)
        return len(data)


@pytest.mark.parametrize(
    ("start", "filling"),
    [
        (b"", b"\0"),
        (HEADER.encode() + b"\n", b"\0"),
        (HEADER.encode() + b"\n", b"a,"),
        (HEADER.encode() + b"\nsimple,", b'"a\n",'),
        (HEADER.encode() + b'\nsimple,"', b"a\n"),
        (b"a,", b"a,"),
        (HEADER.encode() + b"\nsimple,", b"\xe9"),
    ],
    ids=["NULs", "NULs after a header", "a million cells", "cells over lines", "one open quote", "columns", "bytes"],
)
def test_a_hostile_file_of_300_megabytes_is_refused_at_once_in_little_memory(start: bytes, filling: bytes) -> None:
    raw = io.BufferedReader(Endless(start, filling, 300_000_000))
    tracemalloc.start()
    began = time.process_time()
    with pytest.raises(UnreadableError) as caught:
        for _batch in CsvReader(SKILLS, raw).batches():
            pass
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert caught.value.faults
    assert time.process_time() - began < 2
    assert peak < 64_000_000
