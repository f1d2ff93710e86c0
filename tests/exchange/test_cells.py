"""What each column takes, and the reason it gives for what it does not."""

import pytest

from service_center.exchange.rules import FILES, Checker, Faults
from service_center.exchange.rules.reading import Batch

GOOD = {
    "calibres": "FH-21,automatic,28800,52,42.5,automatic",
    "models": "SK-1001,Skerry,FH-21,30,yes,steel",
    "boutiques": "HAR,Harrowmere,GB,Europe/London",
    "owners": "O-1,Ada Winter,ada@owners.example,+44 20 7946 0123,en,GB,Europe/London,yes",
    "pieces": "FH21-1,SK-1001,O-1,HAR,2018-11-05,2019-05-17,in_water,2019-06-01,in_use",
    "history": "E-1,FH21-1,2024-03-02,overhaul,yes,passed,own,no,Seen.",
    "rules": "R-1,overhaul,calibre,FH-21,any,72,84,96,2010-01-01,no",
    "skills": "simple,40,2025-01-06",
}


def checked(stem: str, **cells: str) -> tuple[list[str], list[str], dict[str, str | None]]:
    """Faults, warnings and stored cells of one good record with some cells changed."""
    file = next(file for file in FILES if file.stem == stem)
    names = [column.name for column in file.columns]
    row = dict(zip(names, GOOD[stem].split(","), strict=True)) | cells
    faults, warnings = Faults(), Faults()
    found = Checker(file, range(len(names)), faults, warnings).check(Batch([7], [list(row.values())], []))
    stored = {name: column[0] for name, column in zip(names, found.columns, strict=True) if found.lines}
    return [str(fault) for fault in faults.first], [str(fault) for fault in warnings.first], stored


@pytest.mark.parametrize("stem", GOOD)
def test_a_good_record_has_no_faults_and_an_empty_one_says_what_must_be_known(stem: str) -> None:
    assert checked(stem)[:2] == ([], [])
    file = next(file for file in FILES if file.stem == stem)
    blank, _, _ = checked(stem, **{column.name: "" for column in file.columns})
    required = {column.name for column in file.columns if column.required}
    assert {said.split(":")[2] for said in blank} == required
    assert all(said.endswith(": is empty; it must be known") for said in blank)


@pytest.mark.parametrize(
    ("stem", "column", "text", "reason"),
    [
        ("pieces", "sold_on", "2024-13-01", '"2024-13-01" is not a date (YYYY-MM-DD)'),
        ("pieces", "sold_on", "2023-02-29", '"2023-02-29" is not a date (YYYY-MM-DD)'),
        ("pieces", "sold_on", "17.05.2019", '"17.05.2019" is not a date (YYYY-MM-DD)'),
        ("pieces", "sold_on", "20190517", '"20190517" is not a date (YYYY-MM-DD)'),
        ("pieces", "sold_on", "2019-05-17 ", '"2019-05-17 " is not a date (YYYY-MM-DD)'),
        ("pieces", "made_on", "1799-12-31", '"1799-12-31" is not between 1800-01-01 and 2199-12-31'),
        ("pieces", "made_on", "2200-01-01", '"2200-01-01" is not between 1800-01-01 and 2199-12-31'),
        ("pieces", "use", "dress", '"dress" is not one of everyday, in_water'),
        ("pieces", "status", "sold", '"sold" is not one of in_use, lost, stolen, retired'),
        ("pieces", "serial", "FH21-1 ", '"FH21-1 " begins or ends with a space'),
        ("pieces", "serial", "9" * 65, "is 65 characters long; at most 64 fit"),
        ("calibres", "beats_per_hour", "-28800", '"-28800" is not between 1 and 10000000'),
        ("calibres", "beats_per_hour", "0", '"0" is not between 1 and 10000000'),
        ("calibres", "beats_per_hour", "28800.0", '"28800.0" is not a whole number from 1 to 10000000'),
        ("calibres", "beats_per_hour", "٢٨٨٠٠", '"٢٨٨٠٠" is not a whole number from 1 to 10000000'),
        ("calibres", "lift_angle_deg", "5200", '"5200" is not between 1 and 180'),
        ("calibres", "lift_angle_deg", "52,5", '"52,5" is not a number (such as 52 or 52.5)'),
        ("calibres", "lift_angle_deg", "5.2e1", '"5.2e1" is not a number (such as 52 or 52.5)'),
        ("calibres", "lift_angle_deg", "nan", '"nan" is not a number (such as 52 or 52.5)'),
        ("calibres", "lift_angle_deg", "52.125", '"52.125" has more than two decimal places'),
        ("calibres", "power_reserve_h", "-1", '"-1" is not between 0.1 and 99999'),
        ("models", "rated_bar", "0", '"0" is not between 0.1 and 5000'),
        ("models", "rated_bar", "1000000", '"1000000" is not between 0.1 and 5000'),
        ("models", "divers", "true", '"true" is not yes or no'),
        ("boutiques", "country", "gb", '"gb" is not a country code (two capitals, such as CH)'),
        ("boutiques", "time_zone", "London", '"London" is not a time zone (such as Europe/Zurich)'),
        ("owners", "letters", "YES", '"YES" is not yes or no'),
        ("owners", "language", "English (UK)", '"English (UK)" is not a language tag (such as en, de or pt-BR)'),
        ("owners", "name", "Ada\r\nBcc: all", "holds a control character (U+000D)"),
        ("owners", "name", "Ada\0", "holds a control character (U+0000)"),
        ("owners", "name", "Ada\x1fWinter", "holds a control character (U+001F)"),
        ("owners", "name", "A" * 201, "is 201 characters long; at most 200 fit"),
        ("history", "note", "bell\x07", "holds a control character (U+0007)"),
        ("history", "note", "x" * 10_001, "is 10,001 characters long; at most 10,000 fit"),
        ("history", "kind", "polish", '"polish" is not one of overhaul, repair, tightness_check, battery, strap'),
        ("history", "tightness", "ok", '"ok" is not one of passed, failed, not_tested'),
        ("rules", "opens_months", "-1", '"-1" is not between 0 and 600'),
        ("rules", "closes_months", "601", '"601" is not between 0 and 600'),
        ("rules", "closes_months", "83", "closes after 83 months but is due after 84: opens <= due <= closes"),
        ("rules", "opens_months", "85", "opens after 85 months but is due after 84: opens <= due <= closes"),
        ("rules", "scope_value", "", "is empty: which calibre is the rule for?"),
        ("skills", "skill", "engraving", '"engraving" is not one of simple, automatic, chronograph, complicated'),
        ("skills", "hours_a_week", "10001", '"10001" is not between 0 and 10000'),
    ],
)
def test_a_bad_cell_is_named_with_its_reason(stem: str, column: str, text: str, reason: str) -> None:
    faults, _, _ = checked(stem, **{column: text})
    assert faults == [f"{stem}.csv:7:{column}: {reason}"]


def test_a_rule_for_the_house_has_no_value() -> None:
    faults, _, _ = checked("rules", scope="house")
    assert faults == ["rules.csv:7:scope_value: must be empty: a rule of scope house is for every piece"]


@pytest.mark.parametrize(
    "address",
    ["ada@owners.example", "a.b+c@post.test", "x@sub.owners.example", "o'hara@owners.example", "ada@münchen.example"],
)
def test_one_address_is_one_address(address: str) -> None:
    assert checked("owners", email=address)[0] == []


@pytest.mark.parametrize(
    "text",
    [
        "ada@owners.example,bo@owners.example",
        "ada@owners.example;bo@owners.example",
        "ada@owners.example bo@owners.example",
        "Ada <ada@owners.example>",
        "ada@owners.example\nBcc: all@owners.example",
        "ada@owners",
        "ada",
        "@owners.example",
        "ada@@owners.example",
        "ada..b@owners.example",
        "ada@-owners.example",
        "ada@[127.0.0.1]",
        f"{'a' * 65}@owners.example",
        f"ada@{'owners.' * 36}example",
    ],
)
def test_anything_else_than_exactly_one_address_is_refused(text: str) -> None:
    faults, _, _ = checked("owners", email=text)
    assert len(faults) == 1
    assert faults[0].startswith("owners.csv:7:email: ")
    assert "\n" not in faults[0]


@pytest.mark.parametrize("text", ["=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)", "=1+1"])
def test_a_formula_is_kept_as_text_with_a_warning(text: str) -> None:
    faults, warnings, stored = checked("owners", name=text)
    assert faults == []
    assert warnings == [f'owners.csv:7:name: "{text}" looks like a spreadsheet formula; it is kept as text']
    assert stored["name"] == text


def test_a_telephone_number_is_no_formula() -> None:
    assert checked("owners", phone="+44 (0)20 7946-0123")[1] == []
    assert checked("owners", phone="+cmd")[1] != []


def test_what_is_not_known_is_stored_as_not_known() -> None:
    _, _, stored = checked("pieces", sold_on="", reference="", use="")
    assert (stored["sold_on"], stored["reference"], stored["use"]) == (None, "", "")


def test_a_record_without_a_usable_key_is_left_out_and_others_stay() -> None:
    file = next(file for file in FILES if file.stem == "skills")
    faults = Faults()
    found = Checker(file, range(3), faults, Faults()).check(
        Batch([2, 3, 4], [["simple", "-1", ""], ["sample", "1", ""], ["automatic", "1", ""]], [])
    )
    assert [str(fault).split(": ")[0] for fault in faults.first] == ["skills.csv:2:hours_a_week", "skills.csv:3:skill"]
    assert found.lines == [2, 4]
    assert found.columns[1] == [None, "1"]
