"""The due dates once more, written from the page design/due-dates.md alone, to be read beside it.

This is the second of the "two independent implementations that follow this page". It exists to check the product,
so it must never import it, nor be written by looking at it: only the page, the CSV columns of design/outside.md,
and the standard library. Where the page leaves something open, the most literal reading is taken and said so here
under "Taken literally".
"""

from calendar import monthrange
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

Row = dict[str, str]
Book = dict[str, list[Row]]


# --- Words -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rule:
    """How many months after the start a kind opens, is due and closes, and for whom."""

    kind: str
    scope: str
    scope_value: str
    use: str
    opens_months: int
    due_months: int
    closes_months: int
    in_force_from: date
    covers_running: bool


@dataclass(frozen=True)
class Dates:
    """Opens, due, closes."""

    opens_on: date
    due_on: date
    closes_on: date


@dataclass(frozen=True)
class Reading:
    """The amplitude of one piece in one position, `full` wound or `24h` after; an unknown amplitude is None."""

    taken_on: date
    wind: str
    position: str
    amplitude: float | None


@dataclass(frozen=True)
class ServiceLimits:
    """A calibre's service limits; as they stand here, the common practice that the page names."""

    vertical_amplitude_24h: float = 190
    amplitude_full_wind: float = 220


COMMON_PRACTICE = ServiceLimits()

# Taken literally: the house defaults carry no day, so they have always been in force.
ALWAYS = date.min
HOUSE_DEFAULTS = [
    Rule("overhaul", "house", "", "any", 72, 84, 96, ALWAYS, covers_running=False),
    Rule("tightness", "house", "", "any", 11, 12, 15, ALWAYS, covers_running=False),
    Rule("tightness", "house", "", "in_water", 5, 6, 9, ALWAYS, covers_running=False),
]

NARROWEST_FIRST = ["piece", "model", "calibre", "house"]

# Dial up and dial down (CB, which a sheet may call FH) lie flat; every other position stands.
HORIZONTAL_POSITIONS = {"CH", "CB", "FH"}


# --- Facts that exist on the as-of date ------------------------------------------------------------------------------


def text(row: Row, column: str) -> str:
    """What the column says; a column that is not there is not known, like an empty one."""
    return (row.get(column) or "").strip()


def day_known(row: Row, column: str, as_of: date) -> date | None:
    """The day in the column, unless it is not known, or is dated after the as-of date and so does not exist yet."""
    written = text(row, column)
    if not written:
        return None
    day = date.fromisoformat(written)
    return day if day <= as_of else None


def done_on(entry: Row) -> date:
    return date.fromisoformat(text(entry, "done_on"))


def history_on(as_of: date, history: Iterable[Row]) -> list[Row]:
    """The entries that are facts on the as-of date: done by then, and not voided by then.

    An entry that voids another is itself an entry like any other. What the page leaves open is decided so: an entry
    once voided stays voided, also when the one that voided it is voided in its turn; the last one says what was done.
    """
    known = [entry for entry in history if day_known(entry, "done_on", as_of)]
    voided = {text(entry, "voids") for entry in known} - {""}
    return [entry for entry in known if text(entry, "entry") not in voided]


# --- Start of the overhaul interval ----------------------------------------------------------------------------------


def overhaul_counts(entry: Row) -> bool:
    """An overhaul done by our own workshop, or outside and accepted by the desk."""
    ours = text(entry, "done_by") == "own"
    outside_and_accepted = text(entry, "done_by") == "outside" and text(entry, "accepted") == "yes"
    return text(entry, "kind") == "overhaul" and (ours or outside_and_accepted)


def overhaul_start(piece: Row, entries: Sequence[Row], as_of: date, shelf_months: int) -> date | None:
    overhauls = [done_on(entry) for entry in entries if overhaul_counts(entry)]
    if overhauls:
        return max(overhauls)
    made_on = day_known(piece, "made_on", as_of)
    sold_on = day_known(piece, "sold_on", as_of)
    if sold_on and made_on:
        end_of_allowance = add_months(made_on, shelf_months)
        lay_longer = sold_on > end_of_allowance
        return end_of_allowance if lay_longer else sold_on
    return sold_on or made_on


# --- Start of the tightness interval ---------------------------------------------------------------------------------


def is_rated(model: Row) -> bool:
    """The model has a pressure rating. Taken literally: only an empty column is "not rated"."""
    return text(model, "rated_bar") != ""


def pass_counts(entry: Row) -> bool:
    """A passed test by our own workshop or accepted; any other pass "counts as no pass"."""
    ours_or_accepted = text(entry, "done_by") == "own" or text(entry, "accepted") == "yes"
    return text(entry, "tightness") == "passed" and ours_or_accepted


def tightness_start(piece: Row, entries: Sequence[Row], as_of: date) -> date | None:
    passes = [done_on(entry) for entry in entries if pass_counts(entry)]
    if passes:
        return max(passes)
    return day_known(piece, "sold_on", as_of) or day_known(piece, "made_on", as_of)


def calls_for_a_test(entry: Row) -> bool:
    """The case was opened with no passed test, by anyone, accepted or not, or a test failed."""
    opened_with_no_pass = text(entry, "case_opened") == "yes" and not pass_counts(entry)
    failed = text(entry, "tightness") == "failed"
    return opened_with_no_pass or failed


def test_owed_since(start: date, entries: Sequence[Row]) -> date | None:
    """The earliest such entry strictly later than the start."""
    days = [done_on(entry) for entry in entries if done_on(entry) > start and calls_for_a_test(entry)]
    return min(days, default=None)


# --- Which rule ------------------------------------------------------------------------------------------------------


def read_rule(row: Row) -> Rule:
    return Rule(
        kind=text(row, "kind"),
        scope=text(row, "scope"),
        scope_value=text(row, "scope_value"),
        use=text(row, "use"),
        opens_months=int(text(row, "opens_months")),
        due_months=int(text(row, "due_months")),
        closes_months=int(text(row, "closes_months")),
        in_force_from=date.fromisoformat(text(row, "in_force_from")),
        covers_running=text(row, "covers_running") == "yes",
    )


def rules_of(book: Book) -> list[Rule]:
    """The book's rules; a book without any uses the house defaults."""
    return [read_rule(row) for row in book.get("rules", [])] or HOUSE_DEFAULTS


def matches(rule: Rule, kind: str, piece: Row, model: Row) -> bool:
    """By kind, scope and use alone, whenever the rule is in force."""
    of_the_piece = {
        "piece": text(piece, "serial"),
        "model": text(piece, "reference"),
        "calibre": text(model, "calibre"),
    }
    scope_matches = rule.scope == "house" or (rule.scope_value != "" and rule.scope_value == of_the_piece[rule.scope])
    use_matches = rule.use in ("any", text(piece, "use"))
    return rule.kind == kind and scope_matches and use_matches


def is_eligible(rule: Rule, start: date, as_of: date) -> bool:
    in_force_at_the_start = rule.in_force_from <= start
    covers_what_runs = rule.covers_running and rule.in_force_from <= as_of
    return in_force_at_the_start or covers_what_runs


def narrowest(rules: Sequence[Rule]) -> list[Rule]:
    """Of these rules, those of the narrowest scope, and of those again the ones for the piece's own use, if any are."""
    scope = min((rule.scope for rule in rules), key=NARROWEST_FIRST.index)
    of_that_scope = [rule for rule in rules if rule.scope == scope]
    for_the_own_use = [rule for rule in of_that_scope if rule.use != "any"]
    return for_the_own_use or of_that_scope


def choose_rule(matching: Sequence[Rule], start: date, as_of: date) -> Rule:
    """The rule that applies, of those that match the piece; there is at least one.

    A matching rule that is not eligible came into force after the start. So when none of them is, the start lies before
    every one of them. Taken literally: these are then taken as they are, even those in force only after the as-of date.
    """
    eligible = [rule for rule in matching if is_eligible(rule, start, as_of)]
    if eligible:
        return max(narrowest(eligible), key=lambda rule: rule.in_force_from)
    return min(narrowest(matching), key=lambda rule: rule.in_force_from)


# --- Calendar --------------------------------------------------------------------------------------------------------


def add_months(start: date, months: int) -> date:
    """In one step; a day that the target month lacks becomes its last day."""
    months_since_year_zero = start.year * 12 + (start.month - 1) + months
    year = months_since_year_zero // 12
    month = months_since_year_zero % 12 + 1
    _weekday, last_day = monthrange(year, month)
    return date(year, month, min(start.day, last_day))


def dates_by_rule(rule: Rule, start: date) -> Dates:
    return Dates(
        opens_on=add_months(start, rule.opens_months),
        due_on=add_months(start, rule.due_months),
        closes_on=add_months(start, rule.closes_months),
    )


# --- Evidence --------------------------------------------------------------------------------------------------------


def falls_short(reading: Reading, limits: ServiceLimits) -> bool:
    """Below a limit; at the limit is not below it."""
    if reading.amplitude is None:
        return False
    if reading.wind == "24h":
        vertical = reading.position not in HORIZONTAL_POSITIONS
        return vertical and reading.amplitude < limits.vertical_amplitude_24h
    return reading.wind == "full" and reading.amplitude < limits.amplitude_full_wind


def overhaul_owed_since(
    start: date, as_of: date, readings: Iterable[Reading], limits: ServiceLimits = COMMON_PRACTICE
) -> date | None:
    """The day of the earliest reading taken after the start, and by the as-of date, that falls short."""
    days = [
        reading.taken_on for reading in readings if start < reading.taken_on <= as_of and falls_short(reading, limits)
    ]
    return min(days, default=None)


def brought_forward(dates: Dates, day: date) -> Dates:
    """Each date becomes that day, unless it was earlier: forward, never back."""
    return Dates(min(dates.opens_on, day), min(dates.due_on, day), min(dates.closes_on, day))


def moved_by_trend(dates: Dates, trend_day: date | None) -> Dates:
    """A trend that reaches a limit before the due date moves it there, and opens with it if opens were later.

    Taken literally: closes stays.
    """
    if trend_day is None or trend_day >= dates.due_on:
        return dates
    return Dates(opens_on=min(dates.opens_on, trend_day), due_on=trend_day, closes_on=dates.closes_on)


# --- State on the as-of date -----------------------------------------------------------------------------------------


def is_held(piece: Row, held_serials: Collection[str]) -> bool:
    """Lost, stolen, retired, or in the workshop now."""
    return text(piece, "status") in ("lost", "stolen", "retired") or text(piece, "serial") in held_serials


def state_of(*, held: bool, owed: bool, dates: Dates | None, as_of: date) -> str:
    """The first row that fits, from the top; no dates means that no start is known."""
    if held:
        return "held"
    if dates is None:
        return "no_start"
    if owed:
        return "owed"
    if as_of < dates.opens_on:
        return "not_yet"
    if as_of < dates.due_on:
        return "in_window"
    if as_of < dates.closes_on:
        return "due"
    return "overdue"


# --- The two kinds of one piece --------------------------------------------------------------------------------------


def answer(piece: Row, kind: str, state: str, start: date | None, dates: Dates | None) -> dict[str, str | date | None]:
    return {
        "serial": text(piece, "serial"),
        "kind": kind,
        "state": state,
        "starts_on": start,
        "opens_on": dates.opens_on if dates else None,
        "due_on": dates.due_on if dates else None,
        "closes_on": dates.closes_on if dates else None,
    }


def overhaul_row(
    piece: Row,
    matching: Sequence[Rule],
    entries: Sequence[Row],
    as_of: date,
    *,
    held: bool,
    shelf_months: int,
    readings: Iterable[Reading] = (),
    limits: ServiceLimits = COMMON_PRACTICE,
    trend_day: date | None = None,
) -> dict[str, str | date | None]:
    start = overhaul_start(piece, entries, as_of, shelf_months)
    dates, owed_since = None, None
    if start:
        dates = moved_by_trend(dates_by_rule(choose_rule(matching, start, as_of), start), trend_day)
        owed_since = overhaul_owed_since(start, as_of, readings, limits)
    if dates and owed_since:
        dates = brought_forward(dates, owed_since)
    state = state_of(held=held, owed=owed_since is not None, dates=dates, as_of=as_of)
    return answer(piece, "overhaul", state, start, dates)


def tightness_row(
    piece: Row, matching: Sequence[Rule], entries: Sequence[Row], as_of: date, *, held: bool
) -> dict[str, str | date | None]:
    start = tightness_start(piece, entries, as_of)
    dates, owed_since = None, None
    if start:
        dates = dates_by_rule(choose_rule(matching, start, as_of), start)
        owed_since = test_owed_since(start, entries)
    if owed_since:
        dates = Dates(owed_since, owed_since, owed_since)
    state = state_of(held=held, owed=owed_since is not None, dates=dates, as_of=as_of)
    return answer(piece, "tightness", state, start, dates)


# --- The whole book --------------------------------------------------------------------------------------------------


def plain_due(
    book: Book,
    as_of: date,
    *,
    held_serials: frozenset[str] = frozenset(),
    shelf_months: int = 36,
    readings: Mapping[str, Sequence[Reading]] | None = None,
    limits: Mapping[str, ServiceLimits] | None = None,
    trend_days: Mapping[str, date] | None = None,
) -> list[dict[str, str | date | None]]:
    """Every due date of the book on that day, by serial and kind.

    `held_serials` are the pieces in the workshop now. Evidence is optional: `readings` by serial, `limits` by calibre
    (common practice where a calibre has none of its own), `trend_days` by serial (the day on which a trend reaches the
    limit).
    """
    readings, limits, trend_days = readings or {}, limits or {}, trend_days or {}
    rules = rules_of(book)
    models = {text(model, "reference"): model for model in book.get("models", [])}
    entries_of: dict[str, list[Row]] = {}
    for entry in history_on(as_of, book.get("history", [])):
        entries_of.setdefault(text(entry, "serial"), []).append(entry)

    rows = []
    for piece in sorted(book.get("pieces", []), key=lambda row: text(row, "serial")):
        serial = text(piece, "serial")
        model = models.get(text(piece, "reference"), {})
        entries = entries_of.get(serial, [])
        held = is_held(piece, held_serials)

        overhaul_rules = [rule for rule in rules if matches(rule, "overhaul", piece, model)]
        if overhaul_rules:
            row = overhaul_row(
                piece,
                overhaul_rules,
                entries,
                as_of,
                held=held,
                shelf_months=shelf_months,
                readings=readings.get(serial, ()),
                limits=limits.get(text(model, "calibre"), COMMON_PRACTICE),
                trend_day=trend_days.get(serial),
            )
            rows.append(row)

        tightness_rules = [rule for rule in rules if matches(rule, "tightness", piece, model)]
        if tightness_rules and is_rated(model):
            rows.append(tightness_row(piece, tightness_rules, entries, as_of, held=held))
    return rows
