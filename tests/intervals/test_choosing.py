"""Which rule applies (due-dates.md, which rule)."""

from datetime import date

import pytest

from service_center.book.rules import ServiceKind, Use
from service_center.intervals.rules import HOUSE_DEFAULTS, due_dates
from tests.intervals.facts import Scope, days, due, entry, overhaul, piece, rule


def chosen(facts, *rules, as_of="2026-03-01"):
    return due(facts, "overhaul", as_of, rules=rules).rule.code


def test_the_house_defaults_are_six_seven_and_eight_years_for_an_overhaul() -> None:
    assert days(due(piece(), "overhaul", "2026-03-01")) == ("2025-05-17", "2026-05-17", "2027-05-17")


def test_the_house_defaults_for_tightness_are_shorter_for_a_piece_worn_in_water() -> None:
    assert days(due(piece(), "tightness", "2019-06-01")) == ("2020-04-17", "2020-05-17", "2020-08-17")
    assert days(due(piece(use=Use.IN_WATER), "tightness", "2019-06-01")) == ("2019-10-17", "2019-11-17", "2020-02-17")
    assert days(due(piece(use=None), "tightness", "2019-06-01")) == ("2020-04-17", "2020-05-17", "2020-08-17")


def test_the_narrower_scope_wins() -> None:
    house = rule((1, 2, 3), code="house")
    calibre = rule((1, 2, 3), code="calibre", scope=Scope.CALIBRE, scope_value="FH-21")
    model = rule((1, 2, 3), code="model", scope=Scope.MODEL, scope_value="SK-0104")
    one = rule((1, 2, 3), code="piece", scope=Scope.PIECE, scope_value="FH21-000042")
    assert chosen(piece(), one, model, calibre, house) == "piece"
    assert chosen(piece(), house, model, calibre) == "model"
    assert chosen(piece(), house, calibre) == "calibre"
    assert chosen(piece(calibre="FH-24"), house, calibre) == "house"


def test_a_wider_rule_for_the_own_use_yields_to_a_narrower_one_for_any() -> None:
    house = rule((1, 2, 3), code="house", use=Use.EVERYDAY)
    model = rule((1, 2, 3), code="model", scope=Scope.MODEL, scope_value="SK-0104")
    assert chosen(piece(), house, model) == "model"


def test_a_rule_for_the_own_use_wins_over_any_even_one_later_in_force() -> None:
    own = rule((1, 2, 3), code="own", use=Use.EVERYDAY, in_force_from=date(2001, 1, 1))
    later = rule((1, 2, 3), code="any", in_force_from=date(2010, 1, 1))
    water = rule((1, 2, 3), code="water", use=Use.IN_WATER)
    assert chosen(piece(), own, later, water) == "own"


def test_the_latest_in_force_by_the_start_wins() -> None:
    old = rule((1, 2, 3), code="old", in_force_from=date(2010, 1, 1))
    new = rule((1, 2, 3), code="new", in_force_from=date(2019, 5, 17))
    after = rule((1, 2, 3), code="after", in_force_from=date(2019, 5, 18))
    assert chosen(piece(), old, new, after) == "new"


def test_a_rule_made_after_the_start_applies_only_if_it_covers_running_intervals() -> None:
    old = rule((1, 2, 3), code="old")
    new = rule((1, 2, 3), code="new", in_force_from=date(2025, 1, 1))
    covers = rule((1, 2, 3), code="covers", in_force_from=date(2025, 1, 1), covers_running=True)
    assert chosen(piece(), old, new) == "old"
    assert chosen(piece(), old, covers) == "covers"


def test_a_rule_that_covers_running_intervals_waits_for_its_day() -> None:
    old = rule((1, 2, 3), code="old")
    covers = rule((1, 2, 3), code="covers", in_force_from=date(2026, 3, 1), covers_running=True)
    assert chosen(piece(), old, covers, as_of="2026-02-28") == "old"
    assert chosen(piece(), old, covers, as_of="2026-03-01") == "covers"


def test_an_eligible_rule_of_a_wider_scope_wins_over_a_narrower_one_that_is_not_in_force() -> None:
    house = rule((1, 2, 3), code="house")
    model = rule((1, 2, 3), code="model", scope=Scope.MODEL, scope_value="SK-0104", in_force_from=date(2025, 1, 1))
    assert chosen(piece(), house, model) == "house"


def test_a_start_before_every_rule_takes_the_earliest_of_the_narrowest() -> None:
    house = rule((1, 2, 3), code="house", in_force_from=date(2020, 1, 1))
    first = rule((1, 2, 3), code="first", scope=Scope.MODEL, scope_value="SK-0104", in_force_from=date(2021, 1, 1))
    second = rule((1, 2, 3), code="second", scope=Scope.MODEL, scope_value="SK-0104", in_force_from=date(2022, 1, 1))
    own = rule(
        (1, 2, 3),
        code="own",
        scope=Scope.MODEL,
        scope_value="SK-0104",
        in_force_from=date(2023, 1, 1),
        use=Use.EVERYDAY,
    )
    assert chosen(piece(), second, first, house) == "first"
    assert chosen(piece(), second, first, house, own) == "own"


@pytest.mark.parametrize("sold", ["2019-05-17", None])
def test_a_kind_that_no_rule_matches_does_not_apply_with_or_without_a_start(sold) -> None:
    rules = (rule((1, 2, 3), scope=Scope.MODEL, scope_value="another"), rule((1, 2, 3), use=Use.IN_WATER))
    assert due_dates(piece(sold=sold), rules, date(2026, 3, 1), shelf_months=36) == []


def test_a_piece_of_an_unknown_calibre_matches_no_rule_of_a_calibre() -> None:
    rules = (rule((1, 2, 3), scope=Scope.CALIBRE, scope_value="FH-21"),)
    assert due_dates(piece(calibre=""), rules, date(2026, 3, 1), shelf_months=36) == []


def test_an_interval_counts_from_the_latest_service_by_the_rule_of_its_own_start() -> None:
    rules = (rule((12, 24, 36), code="old"), rule((24, 36, 48), code="new", in_force_from=date(2022, 1, 1)))
    found = due(piece(overhaul("2023-03-02")), "overhaul", "2026-03-01", rules=rules)
    assert found.rule.code == "new"
    assert days(found) == ("2025-03-02", "2026-03-02", "2027-03-02")


def test_an_owed_test_keeps_its_rule_and_the_dates_that_the_rule_alone_would_give() -> None:
    found = due(piece(entry("2023-03-02", case_opened=True)), "tightness", "2026-03-01")
    assert found.rule in HOUSE_DEFAULTS
    assert found.kind is ServiceKind.TIGHTNESS
    assert found.by_rule is not None
    assert str(found.by_rule.due_on) == "2020-05-17"
