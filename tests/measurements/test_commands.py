"""evaluate_timing, evaluate_chronometer and evaluate_tightness, as outside.md promises them."""

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command, load_command_class
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service_center.measurements.models import CalibreLimit
from service_center.measurements.rules.files import BadFileError, chronometer_series, timing_sheet
from tests.factories import CalibreFactory

SHEET = """position,wind,rate,amplitude,beat_error
CH,full,+4.0,285,0.2
FH,full,+5.0,282,0.2
3H,full,-1.0,258,0.4
6H,full,+1.5,255,0.3
9H,full,-3.0,252,0.4
12H,full,+0.5,256,0.5
CH,24h,+1.0,245,0.3
CB,24h,+2.5,243,0.3
3H,24h,-6.0,222,0.5
6H,24h,-3.0,220,0.4
9H,24h,-8.0,217,0.5
12H,24h,-4.5,221,0.6
"""
SERIES = "day,rate\n" + "".join(
    f"{day},{rate}\n"
    for day, rate in enumerate(
        ["3.2", "2.7", "1.1", "1.9", "-0.6", "-1.2", "2.4", "3.0", "1.5", "0.9", "-2.1", "1.2", "4.8", "2.6", "3.5"], 1
    )
)


@pytest.fixture
def run(tmp_path: Path, capsys):
    """Run a command as from the shell: its exit code, its output and its complaints."""

    def command(name: str, *arguments: str, content: str | bytes | None = None):
        given_arguments = list(arguments)
        if content is not None:
            file = tmp_path / "sheet.csv"
            file.write_bytes(content if isinstance(content, bytes) else content.encode())
            given_arguments.insert(0, str(file))
        deed = load_command_class("service_center.measurements", name)
        deed._called_from_command_line = True  # usage errors end the process, as they do in a shell
        code = 0
        try:
            options = vars(deed.create_parser("manage.py", name).parse_args(given_arguments))
            deed.execute(*options.pop("args", ()), **options)
        except CommandError as refused:
            code = refused.returncode
            print(refused, file=sys.stderr)
        except SystemExit as ended:
            code = int(ended.code or 0)
        said = capsys.readouterr()
        return code, said.out, said.err.replace(f"{tmp_path}/", "")

    return command


# evaluate_timing: the worked six-position sheet of design/facts.md, 3


@pytest.mark.django_db
def test_a_sheet_gives_the_published_figures_as_one_json_document(run):
    code, out, err = run("evaluate_timing", "--json", content=SHEET)
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert list(document) == ["winds", "isochronism", "amplitude_drop", "verdicts"]
    full, later = document["winds"]["full"], document["winds"]["24h"]
    assert full["positions"] == ["CH", "CB", "3H", "6H", "9H", "12H"]
    assert full["mean_rate"] == pytest.approx(1.1667, abs=5e-5)
    assert (full["delta"], later["delta"]) == (8.0, 10.5)
    assert full["lowest_amplitude"] == {"position": "9H", "value": 252.0}
    assert full["highest_beat_error"] == {"position": "12H", "value": 0.5}
    assert later["mean_rate"] == -3.0
    assert document["isochronism"] == pytest.approx(-4.1667, abs=5e-5)
    assert document["amplitude_drop"] == {"CH": 40, "CB": 39, "3H": 36, "6H": 35, "9H": 35, "12H": 35}
    for verdict in document["verdicts"]:
        assert list(verdict) == ["figure", "value", "low", "high", "within", "decided_by"]
        assert verdict["within"] is True


@pytest.mark.django_db
def test_what_a_sheet_cannot_give_is_null(run):
    _code, out, _err = run(
        "evaluate_timing", "--json", content="position;wind;rate;amplitude;beat_error\nCH;full;;285;\n"
    )
    document = json.loads(out)
    assert document["winds"]["full"]["mean_rate"] is None
    assert document["winds"]["full"]["lowest_amplitude"] == {"position": "CH", "value": 285.0}
    assert document["winds"]["24h"] == {
        "positions": [], "mean_rate": None, "delta": None, "horizontal_minus_vertical": None,
        "lowest_amplitude": None, "highest_beat_error": None,
    }  # fmt: skip
    assert document["isochronism"] is None
    assert {one["figure"]: one["within"] for one in document["verdicts"]}["delta"] is None


@pytest.mark.django_db
def test_a_verdict_names_the_reading_that_decided_it(run):
    low = SHEET.replace("9H,full,-3.0,252", "9H,full,-13.0,199")
    _code, out, _err = run("evaluate_timing", "--json", content=low)
    verdicts = {one["figure"]: one for one in json.loads(out)["verdicts"]}
    assert verdicts["lowest_vertical_amplitude"]["within"] is False
    assert verdicts["lowest_vertical_amplitude"]["decided_by"] == [{"position": "9H", "wind": "full"}]
    assert verdicts["delta"]["value"] == 18
    assert [one["position"] for one in verdicts["delta"]["decided_by"]] == ["CB", "9H"]
    assert verdicts["lowest_horizontal_amplitude"]["within"] is True


@pytest.mark.django_db
def test_a_calibre_is_judged_by_its_own_limits_where_it_has_any(run):
    calibre = CalibreFactory(code="FH-21")
    CalibreLimit.objects.create(calibre=calibre, figure="delta", high=Decimal("7.99"))
    CalibreLimit.objects.create(calibre=CalibreFactory(), figure="delta", high=Decimal(1))
    _code, out, _err = run("evaluate_timing", "--calibre", "FH-21", "--json", content=SHEET)
    delta = {one["figure"]: one for one in json.loads(out)["verdicts"]}["delta"]
    assert (delta["high"], delta["within"]) == (7.99, False)
    code, out, err = run("evaluate_timing", "--calibre", "FH-99", "--json", content=SHEET)
    assert (code, out) == (2, "")
    assert 'there is no calibre "FH-99"' in err


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (SHEET.replace("285", "361"), "sheet.csv:2:amplitude: an amplitude above 360° cannot be"),
        (SHEET.replace("+4.0", "1000.1"), "sheet.csv:2:rate: a rate beyond ±1,000 s/d cannot be"),
        (SHEET.replace("FH,full", "CH,full"), "sheet.csv:3:position: CH stands twice at full wind"),
        (SHEET.replace("CB,24h", "FH,full"), "sheet.csv:9:position: CB stands twice at full wind"),
        (SHEET.replace("9H,full", "8H,full"), 'sheet.csv:6:position: "8H" is no position'),
        (SHEET.replace("9H,full", "9H,half"), 'sheet.csv:6:wind: "half" is no wind state: full, 24h'),
        (SHEET.replace("252", "much"), 'sheet.csv:6:amplitude: "much" is not a number'),
        (SHEET.replace("252", "NaN"), 'sheet.csv:6:amplitude: "NaN" is not a number'),
        (SHEET.replace("CH,full,+4.0,285,0.2", "CH,full,,,"), "sheet.csv:2:rate: a reading needs a rate"),
        (SHEET.replace("beat_error", "beats"), 'sheet.csv:1: unknown column "beats"'),
        (SHEET.replace(",beat_error", ",rate"), 'sheet.csv:1: column "rate" stands twice'),
        (SHEET.replace("CH,full,+4.0,285,0.2", "CH,full,+4.0"), "sheet.csv:2: 3 cells where the header has 5"),
        (SHEET.encode("utf-16"), "sheet.csv:1: not UTF-8"),
        (SHEET.encode().replace(b"9H,full", b"9H,\xe9"), "sheet.csv:6: not UTF-8"),
        ("position,wind,rate,amplitude,beat_error\n", "sheet.csv:1: the file has no readings"),
        ("", 'sheet.csv:1: missing column "position"'),
        (SHEET + '"', "sheet.csv:14: not readable as CSV"),
        (SHEET + "x" * 1_000_001, "sheet.csv:1: larger than 1,000,000 bytes"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_by_line_and_column(run, content, fault):
    code, out, err = run("evaluate_timing", "--json", content=content)
    assert (code, out) == (2, "")
    assert fault in err


@pytest.mark.django_db
def test_every_fault_has_a_line_of_its_own(run):
    code, _out, err = run("evaluate_timing", content=SHEET.replace("285", "361").replace("9H,full", "8H,half"))
    assert code == 2
    assert [line.split(": ")[0] for line in err.splitlines()] == [
        "sheet.csv:2:amplitude", "sheet.csv:6:position", "sheet.csv:6:wind",
    ]  # fmt: skip


@pytest.mark.django_db
def test_an_unusual_reading_is_a_warning_beside_the_answer(run):
    code, out, err = run("evaluate_timing", "--json", content=SHEET.replace("+4.0", "+75"))
    assert code == 0
    assert json.loads(out)["winds"]["full"]["delta"] == 78
    assert "warning: sheet.csv:2:rate: +75 s/d is more than ±60 s/d" in err


def test_a_file_that_is_not_there_is_named(run, tmp_path):
    code, _out, err = run("evaluate_timing", str(tmp_path / "none.csv"))
    assert code == 2
    assert "none.csv: No such file" in err


# evaluate_chronometer: run A of design/facts.md, 2 (ISO 3159)


def test_a_series_gives_the_seven_criteria(run):
    code, out, err = run("evaluate_chronometer", "--size", "over20", "--json", content=SERIES)
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document["all_within"] is True
    assert [one["name"] for one in document["criteria"]] == ["M", "V", "Vmax", "D", "P", "C", "R"]
    assert document["criteria"][0] == {"name": "M", "value": 1.49, "low": -4.0, "high": 6.0, "within": True}
    assert document["criteria"][3]["value"] == 1.75


def test_a_shorter_series_says_plainly_what_it_cannot_answer(run):
    short = "".join(SERIES.splitlines(keepends=True)[:11])
    code, out, err = run("evaluate_chronometer", "--size", "up_to_20", "--json", content=short)
    document = json.loads(out)
    assert code == 0
    assert document["all_within"] is None
    assert [one["name"] for one in document["criteria"] if one["value"] is None] == ["C", "R"]
    assert "C cannot be answered without day 11, 13" in err


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (SERIES.replace("15,3.5", "16,3.5"), 'sheet.csv:16:day: "16" is no day of the series: 1 to 15'),
        (SERIES.replace("15,3.5", "14,3.5"), "sheet.csv:16:day: day 14 stands twice"),
        (SERIES.replace("15,3.5", "15,3500"), "sheet.csv:16:rate: a rate beyond ±1,000 s/d cannot be"),
        (SERIES.replace("15,3.5", "x,y"), 'sheet.csv:16:rate: "y" is not a number'),
        ("day,rate\n1,\n", "sheet.csv:1: the file has no rates"),
    ],
)
def test_a_series_that_cannot_be_is_refused_by_line_and_column(run, content, fault):
    code, out, err = run("evaluate_chronometer", "--size", "over20", "--json", content=content)
    assert (code, out) == (2, "")
    assert fault in err


def test_the_size_must_be_said(run):
    assert run("evaluate_chronometer", content=SERIES)[0] == 2
    assert run("evaluate_chronometer", "--size", "19", content=SERIES)[0] == 2


# evaluate_tightness: worked by hand in design/facts.md, 4 (limit: ISO 22810)


def tightness(run, drop, *more):
    return run(
        "evaluate_tightness", "--pressure-drop-mbar", drop, "--volume-ml", "10", "--minutes", "1",
        "--temperature-c", "23", *more,
    )  # fmt: skip


def test_a_pressure_drop_gives_a_leak_flow(run):
    code, out, err = tightness(run, "1.00", "--json")
    document = json.loads(out)
    assert (code, err, list(document)) == (0, "", ["micrograms_per_minute", "limit", "within"])
    assert document["micrograms_per_minute"] == pytest.approx(11.7631, abs=5e-5)
    assert (document["limit"], document["within"]) == (50.0, True)
    assert json.loads(tightness(run, "4.26", "--json")[1])["within"] is False


@pytest.mark.parametrize("drop", ["-1", "nan", "inf", "1e308", "wet"])
def test_a_drop_that_cannot_be_is_refused(run, drop):
    code, out, err = tightness(run, f"{drop}", "--json")
    assert (code, out) == (2, "")
    assert err.strip()


@pytest.mark.parametrize("name", ["evaluate_timing", "evaluate_chronometer", "evaluate_tightness"])
def test_each_command_helps_with_an_example(run, name):
    code, out, _err = run(name, "--help")
    assert code == 0
    assert f"python manage.py {name}" in out


def test_a_shell_gets_the_document_and_the_exit_code(tmp_path):
    def shell(drop):
        line = f"manage.py evaluate_tightness --json --volume-ml 10 --minutes 1 --temperature-c 23 --pressure-drop-mbar {drop}"
        return subprocess.run([sys.executable, *line.split()], capture_output=True, text=True, check=False)

    passed, refused = shell("1.0"), shell("-1.0")
    assert (passed.returncode, passed.stderr) == (0, "")
    assert json.loads(passed.stdout)["within"] is True
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "the pressure drop must be 0 or more, not -1.0" in refused.stderr


def test_a_command_called_from_code_raises_instead_of_ending_the_process():
    with pytest.raises(CommandError, match="must be 0 or more"):
        call_command("evaluate_tightness", pressure_drop_mbar=-1.0, volume_ml=1.0, minutes=1.0, temperature_c=20.0)


# any file at all

cell = st.text(st.sampled_from("0123456789.,-+eE;\"'HCBFful24 h\n\r\0é"), max_size=12)
line = st.lists(st.sampled_from(["CH", "FH", "3H", "full", "24h", "4.0", "361", "-1", "", "NaN"]) | cell, max_size=6)


@given(st.binary(max_size=200) | st.lists(line.map(",".join), max_size=8).map(lambda rows: _file(rows).encode()))
@settings(max_examples=300, suppress_health_check=[HealthCheck.too_slow])
def test_no_file_crashes_an_evaluation_or_slips_an_impossible_reading_through(content):
    try:
        readings, _unusual = timing_sheet(content, "any.csv")
    except BadFileError as bad:
        assert bad.faults
    else:
        assert readings
        assert all(one.amplitude is None or 0 <= one.amplitude <= 360 for one in readings)
        assert all(one.rate is None or abs(one.rate) <= 1000 for one in readings)
        assert len({(one.position, one.wind) for one in readings}) == len(readings)
    try:
        rates = chronometer_series(content, "any.csv")
    except BadFileError as bad:
        assert bad.faults
    else:
        assert all(day in range(1, 16) and abs(rate) <= 1000 for day, rate in rates.items())


def _file(rows):
    return "\n".join(["position,wind,rate,amplitude,beat_error", *rows])
