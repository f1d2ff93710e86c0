"""What a change of the rules would do is told before it is kept, and keeping it then does exactly that."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from service_center.book.rules import ServiceKind
from service_center.intervals.actions import recompute
from service_center.intervals.actions.rulebook import EqualRuleError, change_rules
from service_center.intervals.models import DueDate, ForeseenDue, IntervalRule
from service_center.intervals.queries.foreseeing import foreseen
from service_center.intervals.queries.look import Look
from service_center.intervals.queries.rulebook import before_and_after, written_rules
from service_center.intervals.rules import Rule
from service_center.intervals.rules.rulebook import Change, invitation_day, rule_from_record
from tests.intervals import random_book
from tests.intervals.random_book import DAYS, LIVES, RULES, write

pytestmark = pytest.mark.django_db

AS_OF = DAYS.flatmap(lambda day: st.sampled_from([day - timedelta(days=1), day, day + timedelta(days=1)]))
DATES = ("opens_on", "due_on", "closes_on")


def a_rule(draft: dict[str, str], code: str = "") -> Rule:
    months = {name: int(draft[name]) for name in ("opens_months", "due_months", "closes_months")}
    return rule_from_record({**draft, **months, "rule": code, "covers_running": draft["covers_running"] == "yes"})


def stored() -> dict[tuple[str, str], tuple[Any, ...]]:
    rows = DueDate.objects.values_list("piece__serial", "kind", "starts_on", "owed_since", *DATES)
    return {(serial, kind): days for serial, kind, *days in rows}  # type: ignore[misc]


def told(when: str) -> dict[tuple[str, str], list[Any]]:
    """What the look says of due dates that apply before or after."""
    names = ("starts_on", "owed_since", f"opens_{when}", f"due_{when}", f"closes_{when}")
    rows = ForeseenDue.objects.filter(**{"applied" if when == "before" else "applies": True})
    return {(serial, kind): days for serial, kind, *days in rows.values_list("piece__serial", "kind", *names)}  # type: ignore[misc]


def invited_as_letters_say(row: ForeseenDue) -> bool:
    """The days from which an invitation makes sense, by the pure rule; none where there is no day."""

    def day(opens: date | None, due: date | None) -> date | None:
        if opens is None or due is None:
            return None
        kind = ServiceKind(row.kind)
        return invitation_day(kind, opens_on=opens, due_on=due, owed_since=row.owed_since, days_before_due=60)

    before, after = day(row.opens_before, row.due_before), day(row.opens_after, row.due_after)
    return (row.invited_before, row.invited_after) == (before, after)


@st.composite
def changes(draw: Any) -> tuple[list[dict[str, str]], Any]:
    """Some rules, and how they change: one is added, one is taken back, or one takes the place of another."""
    house_rules = draw(RULES)
    what = draw(st.sampled_from(["add", "take_back", "replace"] if house_rules else ["add"]))
    return house_rules, (what, draw(random_book.rules()), draw(st.integers(0, 5)))


def full_of_owed_tests(lives: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Every second piece is rated, sold, and was opened without a test."""
    opened = {"kind": "repair", "case_opened": "yes", "tightness": "failed", "done_by": "own", "accepted": ""}
    for life in lives[::2]:
        life |= {"reference": "SK-1", "sold_on": life["sold_on"] or date(2015, 8, 31)}
        life["history"] = [*life["history"], {**opened, "done_on": "2017-01-30"}]
    return lives


BOOKS = st.lists(random_book.lives(), min_size=2, max_size=5).map(full_of_owed_tests)


def change_of(house_rules: list[dict[str, str]], drawn: Any) -> Change:
    what, draft, number = drawn
    written = written_rules()
    removed = (written[number % len(written)],) if what != "add" else ()
    return Change(added=(a_rule(draft),) if what != "take_back" else (), removed=removed)


@settings(max_examples=60, deadline=None)
@given(found=BOOKS, drawn=changes(), as_of=AS_OF)
def test_keeping_a_change_does_to_every_due_date_exactly_what_was_foreseen(found, drawn, as_of) -> None:
    house_rules, how = drawn
    with transaction.atomic():
        write(found, house_rules)
        recompute(None, as_of=as_of)
        change = change_of(house_rules, how)
        earlier = stored()
        before, after = before_and_after(change)
        with foreseen(Look(before, after, as_of=as_of, on=as_of, days_before_due=60)):
            said_before, said_after = told("before"), told("after")
            assert [row.pk for row in ForeseenDue.objects.all() if not invited_as_letters_say(row)] == []
        try:
            change_rules(change, deed="test", reason="", by=None, as_of=as_of)
        except EqualRuleError:
            assert stored() == earlier
        else:
            later = stored()
            spoken_of = set(said_before) | set(said_after)
            assert said_before == {key: days for key, days in earlier.items() if key in spoken_of}
            assert said_after == {key: days for key, days in later.items() if key in spoken_of}
            assert {key: days for key, days in earlier.items() if key not in spoken_of} == {
                key: days for key, days in later.items() if key not in spoken_of
            }
            as_kept = stored_whole()
            recompute(None, as_of=as_of)
            assert stored_whole() == as_kept
        transaction.set_rollback(True)


def stored_whole() -> list[dict[str, Any]]:
    return list(
        DueDate.objects.order_by("piece__serial", "kind").values(
            "piece__serial", "kind", "starts_on", "start_fact", "start_entry", "rule", *DATES,
            "owed_since", "owed_entry", "evidence", "held", "boutique",
        )
    )  # fmt: skip


@settings(max_examples=30, deadline=None)
@given(found=LIVES, draft=random_book.rules(), as_of=AS_OF)
def test_the_first_rule_writes_the_defaults_beside_it_and_they_move_no_date(found, draft, as_of) -> None:
    with transaction.atomic():
        write(found, [])
        recompute(None, as_of=as_of)
        earlier = stored()
        # A rule for a piece that the book does not have.
        alone = a_rule({**draft, "scope": "piece", "scope_value": "NOT-IN-THE-BOOK"})
        change_rules(Change(added=(alone,)), deed="add_rule", reason="", by=None, as_of=as_of)
        assert stored() == earlier
        assert IntervalRule.objects.count() == 4
        transaction.set_rollback(True)
