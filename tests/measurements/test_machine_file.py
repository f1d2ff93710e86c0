"""A timing machine's own file, by a mapping that the house sets up once."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.measurements.rules import Reading, Wind, impossible
from service_center.measurements.rules.files import BadFileError
from service_center.measurements.rules.machine_file import FileMapping, readings_in
from service_center.measurements.rules.pasted import UnreadableLineError, rows_in
from service_center.measurements.rules.positions import POSITIONS

BENCH = FileMapping(
    position_column="Lage",
    wind_column="Aufzug",
    rate_column="Gang",
    amplitude_column="Ampl.",
    beat_error_column="Abfall",
    beat_error_unit="µs",
    decimal_comma=True,
    lines_above=2,
    position_words={"Zifferblatt oben": "CH", "Krone links": "6H"},
    wind_words={"voll": "full", "nach einem Tag": "24h"},
)
FILE = """Bank 2
25.11.2026
Lage;Aufzug;Gang;Ampl.;Abfall;Bemerkung
Zifferblatt oben;voll;+4,04;284,6;210;gut
krone links;voll;−3,0;255;;
FH;Nach einem Tag;1,25;243;300;
9H;voll;;;;nicht gelesen
"""


def faults(content: str, mapping: FileMapping = BENCH) -> list[str]:
    with pytest.raises(BadFileError) as bad:
        readings_in(content.encode(), "bench.csv", mapping)
    return [str(fault) for fault in bad.value.faults]


def test_columns_units_words_and_the_decimal_comma_are_the_houses_own():
    assert readings_in(FILE.encode(), "bench.csv", BENCH) == [
        Reading("CH", Wind.FULL, Decimal("4.0"), Decimal(285), Decimal("0.21")),
        Reading("6H", Wind.FULL, Decimal("-3.0"), Decimal(255), None),
        Reading("CB", Wind.AFTER_24H, Decimal("1.2"), Decimal(243), Decimal("0.30")),
    ]


def test_a_file_without_a_wind_column_is_of_the_state_that_is_asked_for():
    mapping = FileMapping(position_column="pos", rate_column="rate", rate_unit="s/h")
    readings = readings_in(b"pos\trate\nCH\t0.25\n", "x", mapping, wind=Wind.AFTER_24H)
    assert readings == [Reading("CH", Wind.AFTER_24H, Decimal("6.0"), None, None)]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("Ampl.", "Amplitude"), 'bench.csv:3: missing column "Ampl."'),
        (("+4,04", "vier"), 'bench.csv:4:Gang: "vier" is not a number'),
        (("krone links", "Krone rechts"), 'bench.csv:5:Lage: "Krone rechts" is no position that the mapping knows'),
        (("Nach einem Tag", "leer"), 'bench.csv:6:Aufzug: "leer" is no wind state that the mapping knows'),
        (("284,6", "384,6"), "bench.csv:4:Ampl.: an amplitude above 360° cannot be"),
    ],
)
def test_what_cannot_be_read_is_named_by_line_and_column(change, said):
    assert any(fault.startswith(said) for fault in faults(FILE.replace(*change)))


def test_a_file_with_nothing_in_it_is_refused():
    assert faults("") == ["bench.csv:1: nothing follows the 2 lines above the header"]
    assert "no readings" in faults("\n\nLage;Aufzug;Gang;Ampl.;Abfall\n")[0]


@given(st.text(max_size=300), st.sampled_from([BENCH, FileMapping(position_column="a", rate_column="b")]))
def test_any_text_gives_readings_that_can_be_or_a_named_refusal(text, mapping):
    try:
        readings = readings_in(text.encode("utf-8", "surrogatepass"), "x", mapping)
    except BadFileError as bad:
        assert bad.faults
    else:
        assert impossible(readings) == []


def test_six_lines_from_a_spreadsheet_are_the_grids_own_positions():
    text = "rate\tampl\tbeat\n" + "\n".join(f"{n}.0\t28{n}\t0.{n}" for n in range(6))
    rows = rows_in(text.replace("rate\tampl\tbeat\n", ""), Wind.FULL)
    assert [row.position for row in rows] == ["CH", "CB", "3H", "6H", "9H", "12H"]
    assert rows[2].cells == ("2.0", "282", "0.2")


def test_lines_may_name_their_position_and_wind_state():
    rows = rows_in("FH; +4,5; 281; 0,2\n6h 24h -3 220", Wind.FULL)
    assert [(row.position, row.wind, row.cells) for row in rows] == [
        ("CB", Wind.FULL, ("+4,5", "281", "0,2")),
        ("6H", Wind.AFTER_24H, ("-3", "220")),
    ]


@pytest.mark.parametrize(
    ("lines", "at"),
    [
        pytest.param("4\t285\t0.2\n\t\t\n-1\t258\t0.4", {"CH": "4", "3H": "-1"}, id="a row of tabs in the middle"),
        pytest.param("4;285;0,2\n;;\n-1;258;0,4", {"CH": "4", "3H": "-1"}, id="a row of semicolons"),
        pytest.param("\t\t\n-1\t258\t0.4", {"CB": "-1"}, id="the first row has nothing in it"),
        pytest.param("4\t285\t0.2\n-\t-\t-\n-1\t258\t0.4", {"CH": "4", "CB": "-", "3H": "-1"}, id="a row of dashes"),
        pytest.param("4\t285\nnot read\t\n-1\t258", {"CH": "4", "CB": "not read", "3H": "-1"}, id="words for figures"),
        pytest.param("rate\tampl\n4\t285\n-1\t258", {"CH": "4", "CB": "-1"}, id="a header"),
        pytest.param("\t\nrate\tampl\n\ns/d\t°\n\n4\t285", {"CH": "4"}, id="whatever stands above the last header"),
        pytest.param("rate\tampl\n\t\n4\t285", {"CB": "4"}, id="a row with nothing under the header"),
        pytest.param("\n \n4 285\n-1 258\n\n", {"CH": "4", "CB": "-1"}, id="empty lines around"),
        pytest.param("CH 4 285\n\n6H 1 250\n\n", {"CH": "4", "6H": "1"}, id="an empty line between named positions"),
        pytest.param("CH\t4\n\t\nCB\t-1", {"CH": "4", "CB": "-1"}, id="a row of tabs between named positions"),
        pytest.param("CH\t\t\nCB\t-1\t258", {"CB": "-1"}, id="a named position with nothing"),
        pytest.param("1\n2\n3\n4\n5\n6\n\t\t", dict(zip(POSITIONS, "123456", strict=True)), id="a row too many, with nothing"),
        pytest.param("\t\t\n\t\t", {}, id="rows with nothing"),
        pytest.param("rate\tampl", {}, id="a header alone"),
    ],
)  # fmt: skip
def test_each_row_keeps_its_place(lines, at):
    assert {row.position: row.cells[0] for row in rows_in(lines, Wind.FULL)} == at


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("4\n\n-1", "line 2: is empty, and line 3 names no position"),
        ("rate\n4\n \n\n-1", "line 3: is empty, and line 5 names no position"),
        ("CH 4\n\n-1", "line 2: is empty, and line 3 names no position"),
        ("CB 4\n-1", "line 2: CB stands in line 1 already"),
        ("CH 4\nFH 2\n\ncb 3", "line 4: CB stands in line 2 already"),
    ],
)
def test_a_line_whose_place_is_unsure_is_refused_by_its_number(lines, said):
    with pytest.raises(UnreadableLineError) as refused:
        rows_in(lines, Wind.FULL)
    assert str(refused.value) == said


def test_a_position_may_stand_once_in_each_wind_state():
    rows = rows_in("CH full 4 285\nCH 24h 2 240", Wind.FULL)
    assert [(row.wind, row.cells[0]) for row in rows] == [(Wind.FULL, "4"), (Wind.AFTER_24H, "2")]


def test_a_line_that_fits_no_row_is_named():
    with pytest.raises(UnreadableLineError, match="line 1: 4 values where a position has 3"):
        rows_in("CH 1 2 3 4", Wind.FULL)
    with pytest.raises(UnreadableLineError, match="line 7: begins with no position"):
        rows_in("\n".join(["1 280"] * 7), Wind.FULL)


@given(st.text(max_size=200))
def test_any_pasted_text_is_rows_or_a_named_refusal(text):
    try:
        rows = rows_in(text, Wind.FULL)
    except UnreadableLineError as refused:
        assert refused.line >= 1
    else:
        assert all(row.position in ("CH", "CB", "3H", "6H", "9H", "12H") for row in rows)
