"""Taking a book in: all of it or nothing, nothing twice, and what follows from it."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.db import connection

from service_center.access.models import Trail
from service_center.book.models import Boutique, Calibre, HistoryEntry, Owner, Piece, WatchModel
from service_center.book.queries import owners_by_name_or_phone, pieces_by_serial
from service_center.exchange.actions import NoFilesError
from service_center.intervals.models import DueDate, IntervalRule
from service_center.letters.models import Letter, Reminder
from service_center.planning.models import SkillHours
from tests.exchange.books import EXAMPLE, example, faults, replace, take_in, write

pytestmark = pytest.mark.django_db

EVERYTHING = (Calibre, WatchModel, Boutique, Owner, Piece, HistoryEntry, IntervalRule, SkillHours, DueDate, Trail)


def rows_of_everything() -> dict[str, list[tuple[object, ...]]]:
    """Every row of the book and of what follows from it, with its id."""
    return {model.__name__: list(model.objects.order_by("pk").values_list()) for model in EVERYTHING}


def test_the_example_book_comes_in_whole() -> None:
    result = take_in(EXAMPLE)
    assert (faults(result), result.warnings.count, result.written) == ([], 0, True)
    assert {stem: counts.added for stem, counts in result.counts.items()} == {
        "calibres": 3, "models": 3, "boutiques": 3, "owners": 8, "pieces": 8, "history": 6, "rules": 4, "skills": 4,
    }  # fmt: skip
    assert list(result.counts) == [
        "calibres", "models", "boutiques", "owners", "pieces", "history", "rules", "skills",
    ]  # fmt: skip
    piece = Piece.objects.get(serial="FH21-000001")
    assert (piece.model.calibre.code, piece.owner.name, piece.boutique.name) == ("FH-21", "Ada Winter", "Harrowmere")
    assert (piece.made_on, piece.sold_on, piece.use, piece.place) == (
        date(2018, 11, 5), date(2019, 5, 17), "in_water", "owner",
    )  # fmt: skip
    assert Piece.objects.get(serial="FH10-000002").sold_on is None
    assert Owner.objects.get(code="O-0004").letters is None
    assert HistoryEntry.objects.get(code="E-0006").note == "Crown gasket worn.\nOwner asked to wait."


def test_the_same_files_twice_change_nothing_at_all() -> None:
    take_in(EXAMPLE)
    before = rows_of_everything()
    again = take_in(EXAMPLE)
    assert not again.written
    assert {counts.same for counts in again.counts.values()} == {3, 8, 6, 4}
    assert all(counts.added == counts.changed == 0 for counts in again.counts.values())
    assert rows_of_everything() == before


def test_a_dry_run_counts_and_writes_nothing(tmp_path: Path) -> None:
    result = take_in(EXAMPLE, dry_run=True)
    assert result.counts["pieces"].added == 8
    assert not any(rows_of_everything().values())
    take_in(EXAMPLE)
    folder = example(tmp_path)
    replace(folder / "owners.csv", "Ada Winter", "Ada Summer")
    replace(folder / "pieces.csv", "FH30-000002,SL-2001,,", "FH30-000002,SL-2001,O-0009,")
    with (folder / "owners.csv").open("a") as owners:
        owners.write("O-0009,New Owner,,,,,,\n")
    before = rows_of_everything()
    result = take_in(folder, dry_run=True)
    assert rows_of_everything() == before
    assert (result.counts["owners"].added, result.counts["owners"].changed, result.counts["owners"].same) == (1, 1, 7)
    # The new owner is only in the file, and the piece still counts as changed.
    assert (result.counts["pieces"].changed, result.counts["pieces"].same) == (1, 7)
    (change,) = result.examples["owners"]
    assert (change.key, change.column, change.before, change.after) == ("O-0001", "name", "Ada Winter", "Ada Summer")
    (change,) = result.examples["pieces"]
    assert (change.key, change.column, change.before, change.after) == ("FH30-000002", "owner", "", "O-0009")


def test_only_what_differs_is_written(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    folder = example(tmp_path)
    replace(folder / "owners.csv", "+44 20 7946 0123", "+44 20 7946 9999")
    replace(folder / "pieces.csv", "2016-12-24", "")
    result = take_in(folder)
    assert result.written
    assert result.counts["owners"].changed == result.counts["pieces"].changed == 1
    assert Piece.objects.get(serial="FH10-000001").sold_on is None
    assert found_by("9999") == ["O-0001"]
    trail = Trail.objects.latest("pk")
    assert trail.deed == "import_book"
    assert trail.after["owners"] == {"added": 0, "changed": 1, "same": 7}


def found_by(typed: str) -> list[str]:
    return [Owner.objects.get(pk=pk).code for pk in owners_by_name_or_phone(typed, 10)]


def test_imported_owners_and_pieces_are_found_by_what_staff_type() -> None:
    take_in(EXAMPLE)
    for typed, code in (
        ("winter", "O-0001"),
        ("zoe d", "O-0002"),
        ("παππα", "O-0003"),
        ("佐藤", "O-0005"),
        ("حداد", "O-0006"),
    ):
        assert found_by(typed) == [code]
    for typed, serial in (("fh30 000002", "FH30-000002"), ("0003", "FH21-000003")):
        assert [piece.serial for piece in pieces_by_serial(typed, Piece.objects.all(), 10)] == [serial]


def test_due_dates_follow_from_an_import(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    overhaul = DueDate.objects.get(piece__serial="FH21-000001", kind="overhaul")
    assert (overhaul.starts_on, overhaul.due_on) == (date(2024, 3, 2), date(2031, 3, 2))
    # The case was opened without a passed test.
    assert DueDate.objects.get(piece__serial="FH21-000001", kind="tightness").owed_since == date(2024, 11, 20)
    write(tmp_path, "history", "E-0100,FH21-000001,2026-02-01,tightness_check,no,passed,own,,")
    take_in(tmp_path)
    settled = DueDate.objects.get(piece__serial="FH21-000001", kind="tightness")
    assert (settled.owed_since, settled.starts_on, settled.due_on) == (None, date(2026, 2, 1), date(2026, 8, 1))


def test_a_models_new_pressure_rating_brings_its_pieces_a_tightness_interval(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    assert not DueDate.objects.filter(piece__model__reference="LK-3001", kind="tightness").exists()
    write(tmp_path, "models", "LK-3001,Lanternkeeper,FH-10,3,no,gold")
    take_in(tmp_path)
    # 2016-12-24 and twelve months
    assert DueDate.objects.get(piece__serial="FH10-000001", kind="tightness").due_on == date(2017, 12, 24)


def test_a_changed_rule_moves_every_due_date_it_governs(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    write(tmp_path, "rules", "R-OVERHAUL,overhaul,house,,any,48,60,72,2010-01-01,no")
    take_in(tmp_path)
    assert DueDate.objects.get(piece__serial="FH21-000001", kind="overhaul").due_on == date(2029, 3, 2)


def test_two_rules_may_trade_places(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    write(
        tmp_path,
        "rules",
        "R-TIGHT,tightness,house,,in_water,5,6,9,2010-01-01,no",
        "R-WATER,tightness,house,,any,11,12,15,2010-01-01,no",
    )
    result = take_in(tmp_path)
    assert (faults(result), result.counts["rules"].changed) == ([], 2)
    assert IntervalRule.objects.get(code="R-TIGHT").use == "in_water"


def a_waiting_letter(piece: Piece) -> Reminder:
    """A letter about the overhaul of a piece that has not gone out."""
    due = DueDate.objects.get(piece=piece, kind="overhaul")
    letter = Letter.objects.create(
        owner=piece.owner, language="en", planned_on=date(2026, 3, 1),
        not_before=datetime(2026, 3, 2, 9, tzinfo=UTC),
    )  # fmt: skip
    return Reminder.objects.create(
        piece=piece, kind="overhaul", starts_on=due.starts_on, step="invitation", letter=letter, due_on=due.due_on
    )


def test_a_service_that_comes_in_ends_the_letter_that_asked_for_it(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    reminder = a_waiting_letter(Piece.objects.get(serial="FH21-000002"))
    other = a_waiting_letter(Piece.objects.get(serial="FH10-000001"))
    write(tmp_path, "history", "E-0100,FH21-000002,2026-02-20,overhaul,yes,passed,own,,")
    take_in(tmp_path)
    reminder.refresh_from_db()
    other.refresh_from_db()
    assert reminder.ended_on == date(2026, 3, 1)
    assert Letter.objects.get(pk=reminder.letter_id).state == "ended"
    assert other.ended_on is None


def test_a_stolen_piece_is_written_about_no_more(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    reminder = a_waiting_letter(Piece.objects.get(serial="FH21-000002"))
    folder = example(tmp_path)
    replace(folder / "pieces.csv", "2019-09-30,everyday,,in_use", "2019-09-30,everyday,,stolen")
    take_in(folder)
    reminder.refresh_from_db()
    assert reminder.ended_on is not None


@pytest.mark.parametrize("state", ["waiting", "refused"])
def test_the_former_owner_gets_no_letter_about_a_piece_that_changed_hands(tmp_path: Path, state: str) -> None:
    take_in(EXAMPLE)
    reminder = a_waiting_letter(Piece.objects.get(serial="FH21-000002"))
    Letter.objects.update(state=state)
    folder = example(tmp_path)
    replace(folder / "pieces.csv", "FH21-000002,SK-1001,O-0002", "FH21-000002,SK-1001,O-0001")
    take_in(folder)
    reminder.refresh_from_db()
    assert reminder.ended_because == "the piece has another owner"


# --- faults ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("pieces.csv", "2019-05-17", "2024-13-01", 'pieces.csv:2:sold_on: "2024-13-01" is not a date (YYYY-MM-DD)'),
        ("pieces.csv", "SK-1001,O-0001", "SK-9,O-0001", 'pieces.csv:2:reference: "SK-9" is no reference of the files or of the book'),
        ("pieces.csv", "O-0002,HAR", "O-9,HAR", 'pieces.csv:3:owner: "O-9" is no owner of the files or of the book'),
        ("pieces.csv", ",TAL,2015", ",XXX,2015", 'pieces.csv:4:boutique: "XXX" is no boutique of the files or of the book'),
        ("models.csv", "FH-21", "FH-99", 'models.csv:2:calibre: "FH-99" is no calibre of the files or of the book'),
        ("history.csv", "E-0003,FH21-000002", "E-0003,FH21-999999", 'history.csv:4:serial: "FH21-999999" is no serial of the files or of the book'),
        ("rules.csv", "calibre,FH-30", "calibre,FH-31", 'rules.csv:5:scope_value: "FH-31" is no calibre of the files or of the book'),
        ("rules.csv", "calibre,FH-30", "model,FH-30", 'rules.csv:5:scope_value: "FH-30" is no reference of the files or of the book'),
        ("rules.csv", "calibre,FH-30", "piece,FH-30", 'rules.csv:5:scope_value: "FH-30" is no serial of the files or of the book'),
        ("pieces.csv", "FH21-000004", "FH21-000001", 'pieces.csv:9:serial: "FH21-000001" is already on line 2'),
        ("rules.csv", "house,,in_water,5", "house,,any,5", 'rules.csv:4:rule: "R-WATER" is equal in kind, scope, value, use and day to the rule "R-TIGHT" on line 3'),
        ("calibres.csv", "21600", "-21600", 'calibres.csv:2:beats_per_hour: "-21600" is not between 1 and 10000000'),
        ("calibres.csv", ",49.5,", ",4950,", 'calibres.csv:4:lift_angle_deg: "4950" is not between 1 and 180'),
        ("owners.csv", ",en,GB,", ",en,XX,", 'owners.csv:2:country: "XX" is no country of ISO 3166'),
        ("boutiques.csv", ",GB,", ",UK,", 'boutiques.csv:2:country: "UK" is no country of ISO 3166; it has GB'),
        ("owners.csv", "owner,name", "owner,full_name", "owners.csv:1:full_name: is not a column of this file"),
        ("owners.csv", "owner,name,email", "owner,email,email", "owners.csv:1:name: this column is missing"),
    ],
)  # fmt: skip
def test_one_fault_and_nothing_of_any_file_is_written(tmp_path: Path, file: str, old: str, new: str, said: str) -> None:
    folder = example(tmp_path)
    replace(folder / file, old, new)
    result = take_in(folder)
    assert said in faults(result)
    assert not result.written
    assert not any(rows_of_everything().values())


@pytest.mark.parametrize("code", ["XK", "AX", "TW", "IC"])
def test_a_place_that_has_a_code_in_use_is_a_country(tmp_path: Path, code: str) -> None:
    folder = example(tmp_path)
    replace(folder / "owners.csv", ",en,GB,", f",en,{code},")
    assert faults(take_in(folder)) == []
    assert Owner.objects.get(code="O-0001").country == code


def test_a_country_that_the_book_has_already_goes_on_loading_and_is_taken_for_nobody_else(tmp_path: Path) -> None:
    folder = example(tmp_path)
    take_in(folder)
    Owner.objects.filter(code="O-0001").update(country="XX")
    replace(folder / "owners.csv", ",en,GB,", ",en,XX,")
    assert faults(take_in(folder)) == []
    Owner.objects.filter(code="O-0001").update(country="GB")
    Owner.objects.filter(code="O-0002").update(country="XX")
    assert faults(take_in(folder)) == ['owners.csv:2:country: "XX" is no country of ISO 3166']


def test_one_spoilt_cell_brings_one_fault_and_no_others_in_its_wake(tmp_path: Path) -> None:
    folder = example(tmp_path)
    replace(folder / "pieces.csv", "2019-05-17", "soon")
    assert faults(take_in(folder)) == ['pieces.csv:2:sold_on: "soon" is not a date (YYYY-MM-DD)']


def test_a_file_that_cannot_be_read_makes_nothing_that_it_may_hold_unknown(tmp_path: Path) -> None:
    folder = example(tmp_path)
    path = folder / "owners.csv"
    path.write_bytes(path.read_text(encoding="utf-8").replace("Zoë d'Aubrac", "Zoë").encode("utf-16"))
    assert faults(take_in(folder)) == ["owners.csv:1: is UTF-16 text, not CSV; save it as CSV in UTF-8"]


def test_faults_come_in_the_order_of_the_files_and_lines(tmp_path: Path) -> None:
    write(tmp_path, "pieces", "P-1,SK-0,,,,,,,", "P-2,,,,soon,,,,", "P-2,,,,,later,,,in_use", "P-3,,O-0,,,,,,")
    write(tmp_path, "calibres", "C-1,wound,,,,")
    assert [said.split(": ")[0] for said in faults(take_in(tmp_path))] == [
        "calibres.csv:2:winding", "pieces.csv:2:reference", "pieces.csv:3:made_on", "pieces.csv:4:serial",
        "pieces.csv:4:sold_on", "pieces.csv:5:owner",
    ]  # fmt: skip


def test_history_of_the_book_is_never_edited(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    before = rows_of_everything()
    write(
        tmp_path,
        "history",
        "E-0001,FH21-000001,2024-03-02,overhaul,yes,failed,own,,",
        "E-0003,FH21-000001,2023-06-14,tightness_check,no,passed,own,,",
        "E-0100,FH21-000001,2025-06-14,strap,no,,own,,",
    )
    result = take_in(tmp_path)
    reason = "has another value in the book; history is never edited: add a later entry that corrects it"
    assert faults(result) == [
        f'history.csv:2:tightness: entry "E-0001" {reason}',
        f'history.csv:3:serial: entry "E-0003" {reason}',
    ]
    assert rows_of_everything() == before


def test_a_rule_equal_to_one_of_the_book_is_refused(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    write(tmp_path, "rules", "R-NEW,tightness,house,,in_water,3,4,5,2010-01-01,no")
    assert faults(take_in(tmp_path)) == [
        'rules.csv:2:rule: "R-NEW" is equal in kind, scope, value, use and day to the rule "R-WATER" of the book'
    ]


def test_more_faults_than_anybody_reads_are_counted(tmp_path: Path) -> None:
    write(tmp_path, "pieces", *(f"P-{n},,,,soon,,,," for n in range(1_500)))
    result = take_in(tmp_path)
    assert (result.faults.count, len(result.faults.first), result.faults.more) == (1_500, 1_000, 500)
    write(tmp_path, "pieces", *(f"P-{n},SK-0,,,,,,," for n in range(1_500)))
    result = take_in(tmp_path)
    assert (result.faults.count, len(result.faults.first), result.faults.more) == (1_500, 1_000, 500)


def test_odd_days_and_formulas_are_warnings_and_come_in(tmp_path: Path) -> None:
    write(tmp_path, "pieces", "P-1,,,,2020-01-02,2020-01-01,,,in_use")
    write(tmp_path, "owners", '"=HYPERLINK(""http://x.example"")",=1+1,,,,,,')
    (tmp_path / "peices.csv").write_text("serial\n")
    result = take_in(tmp_path)
    assert result.written
    assert [str(warning) for warning in result.warnings.first] == [
        "peices.csv:1: is not one of a book's files; it was not read",
        'owners.csv:2:owner: "=HYPERLINK("http://x.example")" looks like a spreadsheet formula; it is kept as text',
        'owners.csv:2:name: "=1+1" looks like a spreadsheet formula; it is kept as text',
        "pieces.csv:2:sold_on: 2020-01-01 lies before 2020-01-02: sold before it was made",
    ]
    assert Owner.objects.get().name == "=1+1"


def test_a_folder_without_a_books_files_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NoFilesError, match=r"calibres\.csv, models\.csv"):
        take_in(tmp_path)


def test_nothing_is_left_of_the_temporary_tables() -> None:
    take_in(EXAMPLE)
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_temp_master")
        else:
            cursor.execute("SELECT relname FROM pg_class WHERE relname LIKE 'import\\_%' AND relpersistence = 't'")
        assert cursor.fetchall() == []


def test_the_search_forms_of_the_longest_names_fit(tmp_path: Path) -> None:
    """NFKD makes eighteen letters of one; what is searched must not be longer than its column."""
    write(tmp_path, "owners", f"O-1,{'ﷺ' * 200},,{'9' * 64},,,,")
    write(tmp_path, "pieces", f"{'ﷺ' * 64},,O-1,,,,,,")
    result = take_in(tmp_path)
    assert (faults(result), result.written) == ([], True)
    assert Piece.objects.get().serial == "ﷺ" * 64
