"""Books that a seed of hypothesis writes: small, and full of what makes due dates differ."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from typing import Any

from hypothesis import strategies as st

from service_center.book.models import Custody, HistoryEntry, Piece, WatchModel
from service_center.book.rules import DoneBy, EntryKind, ServiceKind, Status, Tightness, Use
from service_center.intervals.models import IntervalRule
from service_center.measurements.models import Reading, TimingSheet
from service_center.measurements.rules import POSITIONS, WINDS
from tests.factories import BoutiqueFactory, CalibreFactory
from tests.intervals.plain_reading.book import Book
from tests.intervals.plain_reading.book import Reading as PlainReading

# Few days, so that facts fall on one another; the ends of months among them.
DAYS = st.sampled_from([
    date(2015, 8, 31), date(2016, 2, 29), date(2017, 1, 30), date(2020, 1, 30), date(2018, 1, 31), date(2019, 2, 28), date(2019, 3, 1),
    date(2020, 2, 29), date(2021, 5, 17), date(2022, 12, 31), date(2023, 3, 2), date(2023, 3, 3), date(2026, 6, 30),
])  # fmt: skip
REFERENCES = ["SK-1", "SK-2", "SL-1", ""]
CALIBRES = {"SK-1": "FH-21", "SK-2": "FH-24", "SL-1": ""}


def words(kind: Any) -> Any:
    return st.sampled_from([word.value for word in kind])


@st.composite
def rules(draw: Any) -> dict[str, str]:
    scope = draw(st.sampled_from(["house", "house", "calibre", "model", "piece"]))
    values = {"house": [""], "calibre": ["FH-21", "FH-24"], "model": REFERENCES[:3], "piece": ["P0", "P1"]}[scope]
    opens, due, closes = sorted(draw(st.tuples(*[st.integers(0, 60)] * 3)))
    return {
        "kind": draw(words(ServiceKind)),
        "scope": scope,
        "scope_value": draw(st.sampled_from(values)),
        "use": draw(st.sampled_from(["any", "any", "everyday", "in_water"])),
        "opens_months": str(opens),
        "due_months": str(due),
        "closes_months": str(closes),
        "in_force_from": str(draw(DAYS)),
        "covers_running": draw(st.sampled_from(["yes", "no", "no"])),
    }


@st.composite
def entries(draw: Any) -> dict[str, str]:
    return {
        "done_on": str(draw(DAYS)),
        "kind": draw(words(EntryKind)),
        "case_opened": draw(st.sampled_from(["yes", "no", ""])),
        "tightness": draw(st.sampled_from([*(word.value for word in Tightness), ""])),
        "done_by": draw(words(DoneBy)),
        "accepted": draw(st.sampled_from(["yes", "no", ""])),
    }


@st.composite
def lives(draw: Any) -> dict[str, Any]:
    """One piece with all that is known of it."""
    return {
        "reference": draw(st.sampled_from(REFERENCES)),
        "made_on": draw(st.none() | DAYS),
        "sold_on": draw(st.none() | DAYS),
        "use": draw(st.sampled_from([*(use.value for use in Use), ""])),
        "status": draw(st.sampled_from(["in_use", "in_use", "in_use", "", *(status.value for status in Status)])),
        "history": draw(st.lists(entries(), max_size=5)),
        "voids": draw(st.none() | st.integers(0, 4)),
        "moves": draw(st.lists(st.tuples(DAYS, st.sampled_from(["owner", "boutique", "workshop"])), max_size=2)),
        "readings": draw(
            st.lists(
                st.tuples(DAYS, st.sampled_from(WINDS), st.sampled_from(POSITIONS), st.integers(180, 320)), max_size=5
            )
        ),
    }


LIVES = st.lists(lives(), min_size=1, max_size=5)
RULES = st.lists(
    rules(),
    max_size=6,
    unique_by=lambda rule: tuple(rule[key] for key in ("kind", "scope", "scope_value", "use", "in_force_from")),
)


@dataclass
class Written:
    """A book in the database, and the same as rows of its files for the plain reading."""

    book: Book = field(default_factory=dict)
    readings: dict[str, list[PlainReading]] = field(default_factory=dict)
    moves: dict[str, list[tuple[date, str]]] = field(default_factory=dict)

    def held_on(self, as_of: date) -> frozenset[str]:
        """Serials of the pieces that the house has on a day."""
        latest = {serial: [place for day, place in moves if day <= as_of] for serial, moves in self.moves.items()}
        return frozenset(serial for serial, places in latest.items() if places and places[-1] != "owner")


def write(found: list[dict[str, Any]], house_rules: list[dict[str, str]]) -> Written:
    """Put a book into the database."""
    written = Written({"models": [], "pieces": [], "history": [], "rules": []})
    models: dict[str, WatchModel | None] = {"": None}
    boutique = BoutiqueFactory()
    known = {code: CalibreFactory(code=code) for code in ("FH-21", "FH-24")}
    for reference, calibre in CALIBRES.items():
        rated = "" if reference == "SK-2" else "10"
        models[reference] = WatchModel.objects.create(
            reference=reference, calibre=known.get(calibre), rated_bar=rated or None
        )
        written.book["models"].append({"reference": reference, "calibre": calibre, "rated_bar": rated})
    for number, rule in enumerate(house_rules):
        values = {**rule, "covers_running": rule["covers_running"] == "yes"}
        IntervalRule.objects.create(code=f"R{number}", **values)
        written.book["rules"].append(rule)
    for number, life in enumerate(found):
        _write_piece(f"P{number}", life, models[life["reference"]], boutique, written)
    return written


def _write_piece(serial: str, life: dict[str, Any], model: Any, boutique: Any, written: Written) -> None:
    piece = Piece.objects.create(
        serial=serial,
        model=model,
        boutique=boutique,
        **{name: life[name] for name in ("made_on", "sold_on", "use", "status")},
    )
    written.book["pieces"].append(
        {
            "serial": serial,
            "reference": life["reference"],
            "made_on": str(life["made_on"] or ""),
            "sold_on": str(life["sold_on"] or ""),
            "use": life["use"],
            "status": life["status"],
        }
    )
    yes_no = {"yes": True, "no": False, "": None}
    rows: list[HistoryEntry] = []
    for number, entry in enumerate(life["history"]):
        # Codes run against the order of writing, so that neither can stand in for the other.
        code = f"{serial}-{9 - number}"
        voids = rows[-1] if rows and life["voids"] == number else None
        values = {**entry, "case_opened": yes_no[entry["case_opened"]], "accepted": yes_no[entry["accepted"]]}
        rows.append(HistoryEntry.objects.create(code=code, piece=piece, voids=voids, **values))
        plain = {"entry": code, "serial": serial, "voids": voids.code if voids else ""}
        written.book["history"].append({**entry, **plain})
    for day, place in life["moves"]:
        since = datetime.combine(day, time(23, 59), UTC)
        Custody.objects.create(piece=piece, place=place, since=since, boutique=boutique)
    written.moves[serial] = sorted(life["moves"], key=lambda move: move[0])
    written.readings[serial] = []
    for day, wind, position, degrees in life["readings"]:
        sheet = TimingSheet.objects.create(piece=piece, taken_on=day)
        Reading.objects.create(sheet=sheet, wind=wind, position=position, amplitude=degrees)
        written.readings[serial].append(PlainReading(day, wind, position, float(degrees)))
