"""How rules stand beside one another on a day, and what ending one means (due-dates.md, which rule)."""

from dataclasses import replace
from datetime import date

import pytest

from service_center.book.rules import ServiceKind, Use
from service_center.intervals.rules import HOUSE_DEFAULTS, Scope, rule_for
from service_center.intervals.rules.rulebook import (
    ALWAYS,
    WRITTEN_DEFAULTS,
    BeforeItsForceError,
    Change,
    NothingOtherwiseError,
    Standing,
    changed,
    equal_to,
    followers,
    invitation_day,
    next_code,
    record_of,
    rule_from_record,
    standing_of,
)
from service_center.letters.rules import steps
from tests.intervals.facts import piece, rule

TODAY = date(2026, 11, 25)
OLD = rule((72, 84, 96), code="R1")
NEW = rule((48, 60, 72), code="R2", in_force_from=date(2026, 6, 1))


def months(found) -> list[tuple]:
    return [(one.use, one.opens, one.due, one.closes) for one in found]


def test_a_rule_that_another_follows_counts_for_running_intervals_only() -> None:
    assert standing_of(OLD, [OLD, NEW], TODAY) is Standing.RUNNING
    assert standing_of(NEW, [OLD, NEW], TODAY) is Standing.IN_FORCE
    assert standing_of(OLD, [OLD, NEW], date(2026, 5, 31)) is Standing.IN_FORCE
    assert standing_of(NEW, [OLD, NEW], date(2026, 5, 31)) is Standing.TO_COME


def test_a_rule_followed_by_one_that_covers_running_intervals_is_ended() -> None:
    covers = replace(NEW, covers_running=True)
    assert standing_of(OLD, [OLD, covers], TODAY) is Standing.ENDED
    for start in (date(1999, 1, 1), date(2020, 1, 1), TODAY):
        assert rule_for(piece(), ServiceKind.OVERHAUL, start, [OLD, covers], TODAY) == covers


def test_rules_of_other_scopes_and_uses_end_nothing() -> None:
    others = [replace(NEW, scope=Scope.MODEL, scope_value="SK-0104"), replace(NEW, use=Use.IN_WATER)]
    assert standing_of(OLD, [OLD, *others], TODAY) is Standing.IN_FORCE


def test_the_first_rule_stands_beside_the_defaults_and_the_last_one_leaves_them_behind() -> None:
    after = changed([], Change(added=(NEW,)))
    assert after == (*WRITTEN_DEFAULTS, NEW)
    assert changed([NEW], Change(removed=(NEW,))) == WRITTEN_DEFAULTS


@pytest.mark.parametrize("use", [None, *Use])
@pytest.mark.parametrize("start", [ALWAYS, date(1900, 2, 28), TODAY, None])
def test_the_defaults_as_rows_give_what_the_defaults_gave(use, start) -> None:
    for kind in ServiceKind:
        before = rule_for(piece(use=use), kind, start, HOUSE_DEFAULTS, TODAY)
        after = rule_for(piece(use=use), kind, start, WRITTEN_DEFAULTS, TODAY)
        assert before is not None
        assert after == replace(before, code=after.code, in_force_from=ALWAYS)


def test_a_calibre_rule_is_ended_by_one_with_the_months_of_the_house() -> None:
    calibre = replace(NEW, scope=Scope.CALIBRE, scope_value="FH-21")
    found = followers(calibre, [OLD, calibre], piece(), TODAY, covers_running=False)
    assert months(found) == [(None, 72, 84, 96)]
    assert (found[0].scope, found[0].scope_value, found[0].in_force_from) == (Scope.CALIBRE, "FH-21", TODAY)


def test_a_rule_for_any_use_is_followed_by_one_for_each_use_that_differs() -> None:
    model = replace(NEW, kind=ServiceKind.TIGHTNESS, scope=Scope.MODEL, scope_value="SK-0104")
    rules = [*WRITTEN_DEFAULTS, model]
    found = followers(model, rules, piece(), TODAY, covers_running=False)
    assert months(found) == [(None, 11, 12, 15), (Use.IN_WATER, 5, 6, 9)]
    for use in Use:
        without = rule_for(piece(use=use), ServiceKind.TIGHTNESS, TODAY, WRITTEN_DEFAULTS, TODAY)
        ended = rule_for(piece(use=use), ServiceKind.TIGHTNESS, TODAY, [*rules, *found], TODAY)
        assert without is not None
        assert ended is not None
        assert months([replace(ended, use=None)]) == months([replace(without, use=None)])


def test_intervals_that_began_before_go_on_by_the_ended_rule() -> None:
    found = followers(NEW, [OLD, NEW], piece(), date(2027, 1, 1), covers_running=False)
    ended = [OLD, NEW, *found]
    assert rule_for(piece(), ServiceKind.OVERHAUL, date(2026, 12, 31), ended, date(2028, 1, 1)) == NEW
    after = rule_for(piece(), ServiceKind.OVERHAUL, date(2027, 1, 1), ended, date(2028, 1, 1))
    assert after == found[0]
    assert (found[0].due, standing_of(NEW, ended, date(2028, 1, 1))) == (84, Standing.RUNNING)


def test_a_rule_without_which_nothing_applies_cannot_be_followed() -> None:
    with pytest.raises(NothingOtherwiseError):
        followers(NEW, [NEW], piece(), TODAY, covers_running=False)


@pytest.mark.parametrize("day", [date(2026, 5, 31), date(2026, 6, 1)])
def test_a_rule_cannot_end_before_it_comes_into_force(day) -> None:
    with pytest.raises(BeforeItsForceError):
        followers(NEW, [OLD, NEW], piece(), day, covers_running=False)


def test_rules_are_equal_by_kind_scope_value_use_and_day_whatever_their_months() -> None:
    twin = replace(NEW, code="", due=61, covers_running=True)
    assert equal_to(twin, [OLD, NEW]) == NEW
    assert equal_to(replace(twin, use=Use.EVERYDAY), [OLD, NEW]) is None
    assert equal_to(replace(twin, in_force_from=TODAY), [OLD, NEW]) is None


def test_codes_go_on_after_the_highest() -> None:
    assert next_code(["R2", "R10", "overhaul", "R", "Rx"]) == "R11"
    assert next_code([]) == "R1"


@pytest.mark.parametrize("one", [*WRITTEN_DEFAULTS, OLD, replace(NEW, use=Use.IN_WATER, covers_running=True)])
def test_a_rule_comes_back_from_its_record(one) -> None:
    assert rule_from_record(record_of(one)) == one


@pytest.mark.parametrize("kind", list(ServiceKind))
@pytest.mark.parametrize(
    ("opens", "due", "owed"),
    [
        ("2026-01-31", "2026-12-31", None),
        ("2026-12-01", "2026-12-31", None),
        ("2026-01-31", "2026-12-31", "2025-02-03"),
    ],
)
def test_an_invitation_makes_sense_from_the_day_that_the_steps_of_letters_say(kind, opens, due, owed) -> None:
    opens_on, due_on = date.fromisoformat(opens), date.fromisoformat(due)
    owed_since = date.fromisoformat(owed) if owed else None
    service = steps.DueService(
        1, "P", kind, date(2020, 1, 1), opens_on, due_on, closes_on=date(2027, 12, 31), owed_since=owed_since
    )
    assert steps.invitation_day(service) == invitation_day(
        kind, opens_on=opens_on, due_on=due_on, owed_since=owed_since, days_before_due=60
    )
