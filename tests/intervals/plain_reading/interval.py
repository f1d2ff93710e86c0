"""Where an interval starts, which rule it has, and what evidence does to its dates."""

from collections.abc import Iterable, Sequence
from datetime import date

from tests.intervals.plain_reading.book import (
    COMMON_PRACTICE,
    HORIZONTAL_POSITIONS,
    HOUSE_DEFAULTS,
    NARROWEST_FIRST,
    Book,
    Dates,
    Reading,
    Row,
    Rule,
    ServiceLimits,
    add_months,
    day_known,
    done_on,
    text,
)

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
