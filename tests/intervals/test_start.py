"""The start of an interval (due-dates.md, start of the overhaul interval, start of the tightness interval)."""

from datetime import date

from service_center.book.rules import EntryKind, Tightness
from service_center.intervals.rules import HOUSE_DEFAULTS, StartFact, due_dates
from tests.intervals.facts import days, due, entry, overhaul, piece


def start(facts, kind, as_of="2026-03-01", shelf=36):
    found = due(facts, kind, as_of, shelf=shelf).start
    return (str(found.on), found.fact) if found else None


def test_an_overhaul_counts_from_the_latest_overhaul() -> None:
    assert start(piece(overhaul("2021-02-01"), overhaul("2023-03-02")), "overhaul") == (
        "2023-03-02",
        StartFact.OVERHAUL,
    )


def test_an_overhaul_outside_counts_only_when_the_desk_accepted_it() -> None:
    assert start(piece(overhaul("2023-03-02", counts=False)), "overhaul") == ("2019-05-17", StartFact.SALE)
    assert start(piece(overhaul("2023-03-02", counts=True)), "overhaul") == ("2023-03-02", StartFact.OVERHAUL)


def test_a_repair_starts_no_overhaul_interval() -> None:
    assert start(piece(entry("2023-03-02", kind=EntryKind.REPAIR, case_opened=True)), "overhaul") == (
        "2019-05-17",
        StartFact.SALE,
    )


def test_without_an_overhaul_it_counts_from_the_sale_then_from_the_making_then_from_nothing() -> None:
    assert start(piece(made="2018-11-05"), "overhaul") == ("2019-05-17", StartFact.SALE)
    assert start(piece(made="2018-11-05", sold=None), "overhaul") == ("2018-11-05", StartFact.MAKING)
    assert start(piece(sold=None), "overhaul") is None


def test_oil_ages_in_stock_a_piece_that_lay_longer_than_the_allowance_counts_from_its_end() -> None:
    assert start(piece(made="2015-01-31"), "overhaul") == ("2018-01-31", StartFact.SHELF)
    assert start(piece(made="2015-01-31"), "overhaul", shelf=1) == ("2015-02-28", StartFact.SHELF)


def test_a_piece_sold_on_the_last_day_of_the_allowance_counts_from_its_sale() -> None:
    assert start(piece(made="2016-05-17"), "overhaul") == ("2019-05-17", StartFact.SALE)
    assert start(piece(made="2016-05-16"), "overhaul") == ("2019-05-16", StartFact.SHELF)


def test_the_stock_allowance_is_no_matter_for_the_tightness_test() -> None:
    assert start(piece(made="2015-01-31"), "tightness") == ("2019-05-17", StartFact.SALE)


def test_tightness_counts_from_the_latest_passed_test_and_an_overhaul_ends_with_one() -> None:
    facts = piece(overhaul("2023-03-02"), entry("2024-04-01", tightness=Tightness.PASSED))
    assert start(facts, "tightness") == ("2024-04-01", StartFact.PASS)
    assert start(piece(overhaul("2023-03-02")), "tightness") == ("2023-03-02", StartFact.PASS)


def test_without_a_pass_tightness_counts_from_the_sale_then_from_the_making_then_from_nothing() -> None:
    assert start(piece(made="2018-11-05"), "tightness") == ("2019-05-17", StartFact.SALE)
    assert start(piece(made="2018-11-05", sold=None), "tightness") == ("2018-11-05", StartFact.MAKING)
    assert start(piece(sold=None), "tightness") is None


def test_facts_dated_after_the_day_of_the_question_do_not_exist_yet() -> None:
    facts = piece(overhaul("2023-03-02"), made="2018-11-05")
    assert start(facts, "overhaul", as_of="2023-03-01") == ("2019-05-17", StartFact.SALE)
    assert start(facts, "overhaul", as_of="2019-05-16") == ("2018-11-05", StartFact.MAKING)
    assert start(facts, "overhaul", as_of="2018-11-04") is None


def test_a_case_opened_without_a_passed_test_leaves_a_test_owing_at_once_on_all_three_days() -> None:
    found = due(piece(entry("2023-03-02", case_opened=True)), "tightness", "2026-03-01")
    assert found.owed is not None
    assert days(found) == ("2023-03-02",) * 3


def test_it_is_owed_since_the_earliest_such_entry_after_the_start() -> None:
    facts = piece(
        entry("2020-01-01", case_opened=True),
        overhaul("2021-01-01"),
        entry("2022-01-01", tightness=Tightness.FAILED),
        entry("2023-01-01", case_opened=True),
    )
    found = due(facts, "tightness", "2026-03-01")
    assert found.owed is not None
    assert str(found.owed.since) == "2022-01-01"


def test_a_pass_on_the_day_of_a_failure_settles_that_day() -> None:
    facts = piece(
        entry("2023-03-02", code="A", tightness=Tightness.FAILED),
        entry("2023-03-02", code="B", tightness=Tightness.PASSED),
    )
    assert due(facts, "tightness", "2026-03-01").owed is None


def test_a_case_opened_on_the_day_of_sale_owes_nothing() -> None:
    assert due(piece(entry("2019-05-17", case_opened=True)), "tightness", "2026-03-01").owed is None


def test_an_opened_case_with_an_outside_pass_that_nobody_accepted_owes_a_test() -> None:
    opened = entry("2023-03-02", case_opened=True, tightness=Tightness.PASSED, counts=False)
    assert due(piece(opened), "tightness", "2026-03-01").owed is not None


def test_an_outside_pass_that_nobody_accepted_neither_starts_nor_owes_where_the_case_stayed_closed() -> None:
    found = due(piece(entry("2023-03-02", tightness=Tightness.PASSED, counts=False)), "tightness", "2026-03-01")
    assert found.owed is None
    assert found.start is not None
    assert found.start.fact is StartFact.SALE


def test_a_failure_outside_counts_though_nobody_accepted_it() -> None:
    failed = entry("2023-03-02", tightness=Tightness.FAILED, counts=False)
    assert due(piece(failed), "tightness", "2026-03-01").owed is not None


def test_a_piece_without_a_pressure_rating_has_no_tightness_row() -> None:
    found = due_dates(piece(rated=False), HOUSE_DEFAULTS, date(2026, 3, 1), shelf_months=36)
    assert [one.kind for one in found] == ["overhaul"]
