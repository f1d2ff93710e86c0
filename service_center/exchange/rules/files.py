"""The CSV files of a book and their columns. Source: design/outside.md; the first column of each is its key.

The order of `FILES` is the order in which they are read and written: what is referred to comes first.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from service_center.book.rules import (
    Complexity,
    DoneBy,
    EntryKind,
    ServiceKind,
    Status,
    Tightness,
    Use,
    Winding,
)
from service_center.exchange.rules.cells import (
    Cell,
    Country,
    Day,
    Email,
    Language,
    Number,
    Text,
    TimeZone,
    Whole,
    Word,
    YesNo,
    code,
)
from service_center.intervals.rules import Scope

# Common practice of the trade, drawn wide: what lies outside is a slip of the pen.
BEATS_PER_HOUR = Whole(1, 10_000_000)
LIFT_ANGLE_DEG = Number(1, 180)
POWER_RESERVE_H = Number(0.1, 99_999)
RATED_BAR = Number(0.1, 5_000)
MONTHS = Whole(0, 600)
HOURS_A_WEEK = Number(0, 10_000)


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `refers_to`: the file whose key it holds."""

    name: str
    cell: Cell | Text
    required: bool = False
    refers_to: str = ""


RowCheck = Callable[[Mapping[str, str]], list[tuple[str, str]]]


@dataclass(frozen=True, slots=True)
class BookFile:
    """One file: `stem`.csv. `check_row` looks at cells beside each other and returns (column, reason) pairs."""

    stem: str
    columns: tuple[Column, ...]
    check_row: RowCheck | None = None

    @property
    def name(self) -> str:
        """The file's name."""
        return f"{self.stem}.csv"

    @property
    def key(self) -> str:
        """The name of the key column."""
        return self.columns[0].name


def _words(words: type[StrEnum]) -> Word:
    return Word(tuple(word.value for word in words))


def _rule_faults(row: Mapping[str, str]) -> list[tuple[str, str]]:
    """0 <= opens <= due <= closes; the house has no value, every narrower scope has one (due-dates.md, which rule)."""
    found = []
    if row["scope"] == Scope.HOUSE and row["scope_value"]:
        found.append(("scope_value", "must be empty: a rule of scope house is for every piece"))
    if row["scope"] in {Scope.CALIBRE, Scope.MODEL, Scope.PIECE} and not row["scope_value"]:
        found.append(("scope_value", f"is empty: which {row['scope']} is the rule for?"))
    opens, due, closes = (row[name] for name in ("opens_months", "due_months", "closes_months"))
    if opens.isdecimal() and due.isdecimal() and int(opens) > int(due):
        found.append(("opens_months", f"opens after {opens} months but is due after {due}: opens <= due <= closes"))
    if due.isdecimal() and closes.isdecimal() and int(due) > int(closes):
        found.append(("closes_months", f"closes after {closes} months but is due after {due}: opens <= due <= closes"))
    return found


FILES = (
    BookFile(
        "calibres",
        (
            Column("calibre", code(), required=True),
            Column("winding", _words(Winding)),
            Column("beats_per_hour", BEATS_PER_HOUR),
            Column("lift_angle_deg", LIFT_ANGLE_DEG),
            Column("power_reserve_h", POWER_RESERVE_H),
            Column("complexity", _words(Complexity)),
        ),
    ),
    BookFile(
        "models",
        (
            Column("reference", code(), required=True),
            Column("name", Text(200)),
            Column("calibre", code(), refers_to="calibres"),
            Column("rated_bar", RATED_BAR),
            Column("divers", YesNo()),
            Column("case_material", Text(100)),
        ),
    ),
    BookFile(
        "boutiques",
        (
            Column("boutique", code(), required=True),
            Column("name", Text(200)),
            Column("country", Country()),
            Column("time_zone", TimeZone()),
        ),
    ),
    BookFile(
        "owners",
        (
            Column("owner", code(), required=True),
            Column("name", Text(200)),
            Column("email", Email()),
            Column("phone", Text(64, telephone=True)),
            Column("language", Language()),
            Column("country", Country()),
            Column("time_zone", TimeZone()),
            Column("letters", YesNo()),
        ),
    ),
    BookFile(
        "pieces",
        (
            Column("serial", code(), required=True),
            Column("reference", code(), refers_to="models"),
            Column("owner", code(), refers_to="owners"),
            Column("boutique", code(), refers_to="boutiques"),
            Column("made_on", Day()),
            Column("sold_on", Day()),
            Column("use", _words(Use)),
            Column("extension_enrolled_on", Day()),
            Column("status", _words(Status)),
        ),
    ),
    BookFile(
        "history",
        (
            Column("entry", code(), required=True),
            Column("serial", code(), required=True, refers_to="pieces"),
            Column("done_on", Day(), required=True),
            Column("kind", _words(EntryKind), required=True),
            Column("case_opened", YesNo()),
            Column("tightness", _words(Tightness)),
            Column("done_by", _words(DoneBy)),
            Column("accepted", YesNo()),
            Column("note", Text(10_000, lines=True)),
        ),
    ),
    BookFile(
        "rules",
        (
            Column("rule", code(), required=True),
            Column("kind", _words(ServiceKind), required=True),
            Column("scope", _words(Scope), required=True),
            Column("scope_value", code()),
            Column("use", Word(("any", *(use.value for use in Use))), required=True),
            Column("opens_months", MONTHS, required=True),
            Column("due_months", MONTHS, required=True),
            Column("closes_months", MONTHS, required=True),
            Column("in_force_from", Day(), required=True),
            Column("covers_running", YesNo(), required=True),
        ),
        check_row=_rule_faults,
    ),
    BookFile(
        "skills",
        (
            Column("skill", _words(Complexity), required=True),
            Column("hours_a_week", HOURS_A_WEEK),
            Column("in_force_from", Day()),
        ),
    ),
)
NAMES = tuple(file.name for file in FILES)
