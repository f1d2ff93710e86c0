"""The state on a day, the two kinds of one piece, and the whole book."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date

from tests.intervals.plain_reading.book import (
    COMMON_PRACTICE,
    Book,
    Dates,
    Reading,
    Row,
    Rule,
    ServiceLimits,
    dates_by_rule,
    history_on,
    text,
)
from tests.intervals.plain_reading.interval import (
    brought_forward,
    choose_rule,
    is_rated,
    matches,
    moved_by_trend,
    overhaul_owed_since,
    overhaul_start,
    rules_of,
    test_owed_since,
    tightness_start,
)

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
