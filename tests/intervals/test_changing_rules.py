"""Changing the house's rules: the row, the trail, the due dates, and two people at once."""

import threading
from datetime import date

import pytest
from django.db import connections

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.intervals.actions import bring_to, recompute
from service_center.intervals.actions import rulebook as actions
from service_center.intervals.actions.rulebook import EqualRuleError, RuleGoneError, change_rules
from service_center.intervals.models import DueDate, IntervalRule, StoredDays
from service_center.intervals.queries.rulebook import deeds, rule_by_key, written_rules
from service_center.intervals.rules import Rule
from service_center.intervals.rules.rulebook import Change, rule_from_record
from tests.factories import PieceFactory, StaffFactory

MARCH = date(2026, 3, 1)


def a_rule(**changes) -> Rule:
    values = {
        "rule": "", "kind": "overhaul", "scope": "house", "scope_value": "", "use": "any", "opens_months": 48,
        "due_months": 60, "closes_months": 72, "in_force_from": "2026-01-01", "covers_running": True,
    }  # fmt: skip
    return rule_from_record({**values, **changes})


def keep(*added: Rule, removed: tuple[Rule, ...] = (), by=None) -> tuple[Rule, ...]:
    change = Change(added=added, removed=removed)
    return change_rules(change, deed="add_rule", reason="", by=by, as_of=MARCH).added


def due(piece: Piece, kind: str = "overhaul") -> str | None:
    row = DueDate.objects.filter(piece=piece, kind=kind).first()
    return str(row.due_on) if row else None


@pytest.fixture
def piece(db: None) -> Piece:
    """Sold on 17 May 2019."""
    one: Piece = PieceFactory()
    recompute(None, as_of=MARCH)
    return one


def test_a_new_rule_that_covers_running_intervals_moves_the_stored_date(piece) -> None:
    assert due(piece) == "2026-05-17"
    (kept,) = keep(a_rule())
    assert (kept.code, due(piece)) == ("R1", "2024-05-17")


def test_the_first_rule_writes_the_defaults_and_points_every_due_date_to_its_row(piece) -> None:
    keep(a_rule(scope="piece", scope_value=piece.serial))
    assert [rule.code for rule in written_rules()] == [
        "R1", "default-overhaul", "default-tightness", "default-tightness-in-water",
    ]  # fmt: skip
    assert due(piece, "tightness") == "2020-05-17"
    row = DueDate.objects.select_related("rule").get(piece=piece, kind="tightness")
    assert row.rule is not None
    assert row.rule.code == "default-tightness"


def test_a_rule_taken_back_leaves_no_due_date_that_points_to_it(piece) -> None:
    kept = keep(a_rule(scope="model", scope_value=piece.model.reference))
    assert due(piece) == "2024-05-17"
    keep(removed=kept)
    assert due(piece) == "2026-05-17"
    assert set(DueDate.objects.values_list("rule__code", flat=True)) == {"default-overhaul", "default-tightness"}


def test_the_last_rule_taken_back_brings_the_defaults_of_the_trade_back(piece) -> None:
    IntervalRule.objects.create(
        code="only", kind="overhaul", scope="house", use="any", opens_months=48, due_months=60, closes_months=72,
        in_force_from=date(2000, 1, 1), covers_running=False,
    )  # fmt: skip
    recompute(None, as_of=MARCH)
    assert (due(piece), due(piece, "tightness")) == ("2024-05-17", None)
    keep(removed=written_rules())
    assert (due(piece), due(piece, "tightness")) == ("2026-05-17", "2020-05-17")


def test_a_code_that_a_rule_once_had_is_never_given_to_another(piece) -> None:
    keep(removed=keep(a_rule()))
    assert keep(a_rule())[0].code == "R2"


def test_an_equal_rule_is_refused_by_name_and_nothing_is_written(piece) -> None:
    keep(a_rule())
    before = (written_rules(), Trail.objects.count(), due(piece))
    with pytest.raises(EqualRuleError) as refused:
        keep(a_rule(due_months=66))
    assert refused.value.other.code == "R1"
    assert (written_rules(), Trail.objects.count(), due(piece)) == before


def test_a_rule_that_somebody_took_back_before_cannot_be_taken_back_again(piece) -> None:
    kept = keep(a_rule())
    keep(removed=kept)
    with pytest.raises(RuleGoneError):
        keep(removed=kept)


def test_the_trail_says_who_changed_what_from_what(piece) -> None:
    desk = StaffFactory(username="ines")
    kept = keep(a_rule(), by=desk)
    change_rules(Change(removed=kept), deed="take_back_rule", reason="A slip.", by=desk, as_of=MARCH)
    told, older = deeds()
    assert older is None
    assert [(deed.deed, deed.by, deed.removed, deed.reason) for deed in told] == [
        ("take_back_rule", desk, kept, "A slip."),
        ("add_rule", desk, (), ""),
    ]
    assert told[1].added[-1] == kept[0]
    assert rule_by_key(0) is None


def test_many_pieces_are_worked_out_as_few_are(piece, monkeypatch) -> None:
    keep(a_rule())
    few = list(DueDate.objects.order_by("pk").values("kind", "due_on", "opens_on", "closes_on"))
    keep(removed=tuple(rule for rule in written_rules() if rule.code == "R1"))
    monkeypatch.setattr(actions, "FEW", 0)
    keep(a_rule())
    assert list(DueDate.objects.order_by("pk").values("kind", "due_on", "opens_on", "closes_on")) == few
    assert StoredDays.objects.get().last_day == MARCH


def test_a_pass_that_was_cut_short_is_made_good_by_the_next_round(piece, monkeypatch) -> None:
    def cut_short(*_args, **_named):
        raise KeyboardInterrupt

    monkeypatch.setattr(actions, "recompute", cut_short)
    with pytest.raises(KeyboardInterrupt):
        keep(a_rule())
    assert due(piece) == "2026-05-17"
    bring_to(as_of=MARCH)
    assert due(piece) == "2024-05-17"


@pytest.mark.django_db(transaction=True)
def test_two_people_who_keep_equal_rules_at_once_keep_one() -> None:
    serial = PieceFactory().serial
    recompute(None, as_of=MARCH)
    keep(a_rule())
    together, said = threading.Barrier(2), []

    def one(months: int) -> None:
        try:
            together.wait()
            keep(a_rule(scope="piece", scope_value=serial, due_months=months))
            said.append("kept")
        except EqualRuleError as refused:
            said.append(refused.other.code)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one, args=(months,)) for months in (61, 62)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(said) == ["R2", "kept"]
    assert IntervalRule.objects.filter(scope="piece").count() == 1


@pytest.mark.django_db(transaction=True)
def test_a_pass_under_way_goes_on_by_the_rules_of_the_moment() -> None:
    """A rule kept between two chunks of a pass that began before: no date by the old rules is left."""
    first = PieceFactory()
    last = PieceFactory(pk=first.pk + 50_000)
    recompute(None, as_of=MARCH)
    keep(a_rule(due_months=61))
    seen: list[int] = []

    def meanwhile(_pieces: int) -> None:
        if not seen:
            seen.append(1)
            keep(a_rule(due_months=66, in_force_from="2026-02-01"))

    recompute(None, as_of=MARCH, progress=meanwhile)
    assert (due(first), due(last)) == ("2024-11-17", "2024-11-17")
