"""The desk looks at what a change of the rules would do, and keeps exactly that."""

import html
import re
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.test import Client

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.exchange.actions import export_book, import_book
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate, IntervalRule
from service_center.intervals.queries.foreseen import Month
from service_center.letters.models import Letter, Reminder
from service_center.rulebook.chart import chart_of
from tests.factories import OwnerFactory, PieceFactory, WatchModelFactory, history

TODAY = date(2026, 3, 10)
FILLED = {
    "kind": "overhaul", "scope": "house", "calibre": "", "model": "", "piece": "", "use": "any", "opens_months": "48",
    "due_months": "60", "closes_months": "72", "in_force_from": "2026-03-10", "covers_running": "on", "reason": "",
}  # fmt: skip


@pytest.fixture(autouse=True)
def _the_day() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 10, 9, 0, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def desk(signed_in: Callable[..., Client]) -> Client:
    return signed_in("desk")


@pytest.fixture
def piece(db: None) -> Piece:
    """Sold on 17 May 2019: by the defaults its overhaul is due on 17 May 2026."""
    one: Piece = PieceFactory()
    recompute(None, as_of=TODAY)
    return one


def text_of(response: Any) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", response.content.decode())).split())


def look(client: Client, where: str = "/rules/add/", **changes: str) -> Any:
    filled = {name: value for name, value in {**FILLED, **changes}.items() if value is not None}
    return client.post(where, {**filled, "deed": "look"})


def keep_what_was_looked_at(client: Client, looked: Any, where: str = "/rules/add/") -> str:
    """Press the button of the look, which carries its values."""
    page = looked.content.decode()
    form = page[: page.index('value="save"')].rpartition("<form")[2]
    sent = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form))
    return text_of(client.post(where, {**sent, "deed": "save"}, follow=True))


def end_page(code: str) -> str:
    return f"/rules/{IntervalRule.objects.get(code=code).pk}/end/"


def test_a_house_without_rules_sees_the_defaults_of_the_trade(desk, db) -> None:
    said = text_of(desk.get("/rules/"))
    assert "the defaults of the trade apply" in said
    assert "The whole house Any use 72 84 96 always new intervals only In force" in said
    assert "The whole house Worn in water 5 6 9" in said
    assert "Nobody has changed a rule yet" in said


def test_a_look_tells_how_many_dates_move_and_writes_nothing(desk, piece) -> None:
    said = text_of(look(desk))
    assert "Due days move 1 Earlier 1 Later 0" in said
    assert "24 months earlier 1" in said
    assert "1 would go out at once" in said
    assert f"{piece.serial} Overhaul 17 May 2026 17 May 2024" in said
    assert "After: Counted from the sale on 17 May 2019, by rule “R1” for the whole house" in said
    assert not IntervalRule.objects.exists()
    assert not Trail.objects.filter(subject="interval_rules:house").exists()


def test_keeping_writes_exactly_what_was_looked_at(desk, piece) -> None:
    said = keep_what_was_looked_at(desk, look(desk, reason="Oils of the new kind."))
    assert "Rule R1 is kept. The due dates of 1 piece were worked out anew." in said
    assert "Oils of the new kind." in said
    row = IntervalRule.objects.get(code="R1")
    months = (row.opens_months, row.due_months, row.closes_months)
    assert (row.scope, months, row.in_force_from, row.covers_running) == ("house", (48, 60, 72), TODAY, True)
    assert str(DueDate.objects.get(piece=piece, kind="overhaul").due_on) == "2024-05-17"


def test_a_rule_for_new_intervals_only_moves_nothing_and_the_look_says_so(desk, piece) -> None:
    said = text_of(look(desk, covers_running=None))
    assert "No date moves now." in said


def test_a_rule_to_come_is_looked_at_as_of_its_day(desk, piece) -> None:
    said = text_of(look(desk, in_force_from="2027-01-01"))
    assert "As it will be on 1 January 2027" in said
    assert "Due days move 1" in said
    keep_what_was_looked_at(desk, look(desk, in_force_from="2027-01-01"))
    assert str(DueDate.objects.get(piece=piece, kind="overhaul").due_on) == "2026-05-17"
    assert "To come" in text_of(desk.get("/rules/"))


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"opens_months": "61"}, "It cannot be due before it opens."),
        ({"closes_months": "59"}, "It cannot close before it is due."),
        ({"scope": "calibre"}, "The rule is for one of these: say for which."),
        ({"scope": "model", "model": "SK-9999"}, "The book has none of that name."),
        ({"scope": "piece", "piece": "nobody's"}, "The book has none of that name."),
        ({"in_force_from": "1799-12-31"}, "A day of a book lies between 1800-01-01 and 2199-12-31."),
        ({"in_force_from": "soon"}, "Enter a valid date."),
        ({"opens_months": "-1"}, "greater than or equal to 0"),
        ({"kind": ""}, "This field is required."),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_nothing_typed_is_lost(desk, piece, changes, reason) -> None:
    response = look(desk, **{**changes, "reason": "Kept words"})
    assert response.status_code == 422
    assert reason in text_of(response)
    assert "Kept words" in text_of(response)
    assert "What it would do" not in text_of(response)
    assert not IntervalRule.objects.exists()


def test_a_rule_counts_only_the_pieces_that_it_speaks_of(desk, piece) -> None:
    PieceFactory(model=WatchModelFactory(calibre=piece.model.calibre))
    PieceFactory()
    recompute(None, as_of=TODAY)
    assert "speaks of: 3; due dates counted: 3." in text_of(look(desk))
    calibre = piece.model.calibre.code
    assert "speaks of: 2; due dates counted: 2." in text_of(look(desk, scope="calibre", calibre=calibre))
    assert "speaks of: 1; due dates counted: 1." in text_of(look(desk, scope="piece", piece=piece.serial))


def test_an_equal_rule_is_refused_by_the_name_of_the_other(desk, piece) -> None:
    keep_what_was_looked_at(desk, look(desk))
    response = look(desk, due_months="61")
    assert response.status_code == 422
    assert "Rule R1 has the same kind, scope, use and day in force" in text_of(response)


def test_a_form_sent_twice_is_one_rule(desk, piece) -> None:
    looked = look(desk)
    keep_what_was_looked_at(desk, looked)
    assert "Rule R1 has the same kind" in keep_what_was_looked_at(desk, looked)
    assert IntervalRule.objects.filter(code__startswith="R").count() == 1


def test_a_rule_to_come_is_taken_back_and_stays_in_the_history(desk, piece) -> None:
    keep_what_was_looked_at(desk, look(desk, in_force_from="2027-01-01"))
    where = end_page("R1")
    assert "It has not come into force yet" in text_of(desk.get(where))
    said = keep_what_was_looked_at(desk, look(desk, where, how="take_back", day="", reason="Too soon."), where)
    assert "Rule R1 is taken back." in said
    assert "R1 taken back Overhaul, The whole house, any use: 48 / 60 / 72 months" in said
    assert "Too soon." in said
    assert not IntervalRule.objects.filter(code="R1").exists()


def test_a_rule_in_force_is_followed_by_one_with_the_months_of_the_house(desk, piece, signed_in) -> None:
    calibre = piece.model.calibre.code
    keep_what_was_looked_at(desk, look(desk, scope="calibre", calibre=calibre))
    where = end_page("R1")
    looked = look(desk, where, how="follow", day="2026-03-11", covers_running=None)
    assert "No date moves now." in text_of(looked)
    assert f"Overhaul, Calibre {calibre}, any use: 72 / 84 / 96 months, in force from 11 Mar 2026" in text_of(looked)
    assert f"R1 ended Overhaul, Calibre {calibre}, any use: 48 / 60 / 72" in keep_what_was_looked_at(
        desk, looked, where
    )
    with time_machine.travel(datetime(2026, 3, 11, 9, 0, tzinfo=UTC), tick=False):
        assert "Running intervals only" in text_of(signed_in("manager").get("/rules/"))
    history(piece, "2026-03-12")
    recompute([piece.pk], as_of=date(2026, 3, 12))
    assert str(DueDate.objects.get(piece=piece, kind="overhaul").due_on) == "2033-03-12"


def test_a_rule_cannot_end_before_its_day_nor_where_nothing_else_would_apply(desk, piece) -> None:
    keep_what_was_looked_at(desk, look(desk))
    said = text_of(look(desk, end_page("R1"), how="follow", day="2026-03-10"))
    assert "The rule is in force from 10 Mar 2026: choose a later day, or take it back." in said
    IntervalRule.objects.exclude(code="R1").delete()
    said = text_of(look(desk, end_page("R1"), how="follow", day="2026-03-11"))
    assert "Without this rule nothing would apply to its pieces" in said


def test_a_rule_that_somebody_took_back_meanwhile_is_said_to_be_gone(desk, piece) -> None:
    keep_what_was_looked_at(desk, look(desk))
    where = end_page("R1")
    looked = look(desk, where, how="take_back", day="")
    keep_what_was_looked_at(desk, looked, where)
    assert "That rule is no longer there." in keep_what_was_looked_at(desk, looked, where)


def test_where_a_kind_ceases_to_apply_the_letter_about_it_ends(desk, piece) -> None:
    keep_what_was_looked_at(desk, look(desk, scope="piece", piece=piece.serial))
    letter = Letter.objects.create(
        owner=piece.owner, language="en", planned_on=TODAY, state="waiting",
        not_before=datetime(2026, 3, 11, tzinfo=UTC),
    )  # fmt: skip
    check = DueDate.objects.get(piece=piece, kind="tightness")
    Reminder.objects.create(
        piece=piece, kind="tightness", starts_on=check.starts_on, step="invitation", letter=letter, due_on=check.due_on
    )
    for code in ("default-tightness-in-water", "default-tightness"):
        where = end_page(code)
        looked = look(desk, where, how="take_back", day="")
        keep_what_was_looked_at(desk, looked, where)
    assert "Due dates vanish 1" in text_of(looked)
    assert not DueDate.objects.filter(piece=piece, kind="tightness").exists()
    letter.refresh_from_db()
    assert (letter.state, Reminder.objects.get().ended_because) == (
        "ended", "the house's interval rules were changed",
    )  # fmt: skip


def written(piece: Piece, kind: str, state: str = "waiting") -> Reminder:
    """An invitation of today: its owner's morning is still to come, or its round is held."""
    due = DueDate.objects.get(piece=piece, kind=kind)
    letter = Letter.objects.create(
        owner=piece.owner, language="en", planned_on=TODAY, state=state,
        not_before=datetime(2026, 3, 10, 17, tzinfo=UTC),
    )  # fmt: skip
    return Reminder.objects.create(
        piece=piece, kind=kind, starts_on=due.starts_on, step="invitation", letter=letter, due_on=due.due_on
    )


@pytest.mark.parametrize("state", ["waiting", "held"])
def test_where_a_rule_moves_a_day_far_off_the_letter_about_it_ends(desk, piece, state) -> None:
    """It would speak of a day two years ahead, and there would be no other when that day comes."""
    history(piece, "2025-03-20", kind="repair")
    other = PieceFactory()
    recompute(None, as_of=TODAY)
    check, overhaul = written(piece, "tightness", state), written(other, "overhaul", state)
    keep_what_was_looked_at(desk, look(desk, kind="tightness", opens_months="35", due_months="36", closes_months="39"))
    assert str(DueDate.objects.get(piece=piece, kind="tightness").due_on) == "2028-03-20"
    for reminder in (check, overhaul):
        reminder.refresh_from_db()
        reminder.letter.refresh_from_db()
    assert (check.letter.state, check.ended_because) == ("ended", "the house's interval rules were changed")
    # An ended reminder leaves its key free: the check is invited when its day comes. What the rule does not touch stays.
    assert check.ended_on == TODAY
    assert (overhaul.letter.state, overhaul.ended_on) == (state, None)


def test_where_a_rule_hardly_moves_a_day_the_letter_about_it_goes(desk, piece) -> None:
    history(piece, "2025-03-20", kind="repair")
    recompute([piece.pk], as_of=TODAY)
    check = written(piece, "tightness")
    keep_what_was_looked_at(desk, look(desk, kind="tightness", opens_months="12", due_months="13", closes_months="15"))
    assert str(DueDate.objects.get(piece=piece, kind="tightness").opens_on) == "2026-03-20"
    check.letter.refresh_from_db()
    assert check.letter.state == "waiting"


def test_invitations_count_only_owners_within_reach_that_were_not_invited(desk, piece) -> None:
    PieceFactory(owner=OwnerFactory(letters=False))
    PieceFactory(owner=OwnerFactory(email=""))
    PieceFactory(status="lost")
    invited = PieceFactory()
    recompute(None, as_of=TODAY)
    letter = Letter.objects.create(
        owner=invited.owner, language="en", planned_on=TODAY, state="sent", not_before=datetime(2026, 3, 9, tzinfo=UTC)
    )
    Reminder.objects.create(
        piece=invited, kind="overhaul", starts_on=date(2019, 5, 17), step="invitation", letter=letter,
        due_on=date(2026, 5, 17),
    )  # fmt: skip
    said = text_of(look(desk))
    assert "Due days move 5" in said
    assert "1 would go out at once" in said


def test_the_rules_of_a_first_change_come_back_from_their_file(desk, piece, tmp_path: Path) -> None:
    keep_what_was_looked_at(desk, look(desk))
    export_book(tmp_path)
    read = import_book(tmp_path, dry_run=True, by=None, as_of=TODAY)
    assert read.faults.first == []
    assert (read.counts["rules"].same, read.changes_anything) == (4, False)


@pytest.mark.parametrize("role", ["boutique", "watchmaker"])
def test_only_the_desk_and_the_manager_change_rules(signed_in, piece, role) -> None:
    client = signed_in(role)
    assert client.get("/rules/").status_code == 403
    assert client.post("/rules/add/", {**FILLED, "deed": "save"}).status_code == 403
    assert not IntervalRule.objects.exists()


def test_a_picture_of_a_large_book_has_its_thousands_marked() -> None:
    chart = chart_of([Month(date(2026, 1, 1), due_before=3_700, due_after=2)])
    assert [number for _height, number in chart.lines] == ["0", "1,000", "2,000", "3,000", "4,000"]


def test_the_highest_bar_of_the_picture_stays_below_its_top_line() -> None:
    months = [Month(date(2026, month, 1), due_before=month * 37, due_after=month) for month in range(1, 13)]
    chart = chart_of(months)
    assert [number for _height, number in chart.lines] == ["0", "200", "400", "600"]
    assert min(bar.before_top for bar in chart.bars) > chart.lines[-1][0]
    assert chart_of([Month(date(2026, 1, 1))]).lines[-1][1] == "1"


def test_the_page_of_the_rules_takes_few_statements_however_many_rules_there_are(
    desk, piece, django_assert_max_num_queries
) -> None:
    for month in range(1, 9):
        keep_what_was_looked_at(desk, look(desk, in_force_from=f"2027-0{month}-01"))
    with django_assert_max_num_queries(8):
        desk.get("/rules/")
