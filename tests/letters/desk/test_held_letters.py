"""After a restore: the desk looks through what the backup had as waiting, lets it go, or ends it (letters.md, sent once)."""

import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.urls import reverse

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.letters import faults
from service_center.letters.actions import go_on, hold_waiting, replay
from service_center.letters.actions.held_lots import each_lot
from service_center.letters.models import Letter, Reminder
from service_center.letters.queries import held_letters, listing
from service_center.letters.queries.held_letters import latest_restore
from service_center.letters.rules.journal import Going, Gone, GoneReminder
from service_center.letters.rules.words import LetterState
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import NOW, only_letter, recount, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
SignIn = Callable[..., Client]
PLANNED = date(2026, 3, 18)
WENT_OUT = datetime(2026, 3, 18, 17, 2, tzinfo=UTC)
HELD = reverse("letters:held")


@pytest.fixture
def three_held(due_piece: Make) -> list[Letter]:
    """Three letters of a round, held since a backup came back."""
    for _piece in range(3):
        due_piece()
    round_on(PLANNED.isoformat())
    hold_waiting()
    return list(Letter.objects.order_by("pk"))


def many_held(number: int) -> None:
    owners = [OwnerFactory() for _one in range(number)]
    Letter.objects.bulk_create(
        Letter(owner=owner, language="en", planned_on=PLANNED + timedelta(days=at % 4), not_before=WENT_OUT)
        for at, owner in enumerate(owners)
    )
    hold_waiting()


def gone(letter: Letter) -> Gone:
    """What the journal has of a letter that went out after the backup."""
    one = letter.reminders.select_related("piece").get()
    reminder = GoneReminder(one.piece.serial, one.kind, one.starts_on, one.step, one.due_on)
    going = Going(
        letter.pk, letter.owner.code, "en", letter.planned_on, f"<letter.{letter.pk}@house>", 1, (reminder,), ()
    )
    return Gone(going, WENT_OUT, "250 ok")


def states() -> dict[str, int]:
    found = list(Letter.objects.values_list("state", flat=True))
    return {state: found.count(state) for state in set(found)}


def to_end(letters: list[Letter], **fields: Any) -> dict[str, Any]:
    numbers = [str(letter.pk) for letter in letters]
    return {"letter": numbers, "which": "ticked", "reason": "The log has them as sent.", **fields}


def test_what_a_round_under_way_had_written_when_the_backup_was_made_waits_for_the_desk_too(
    due_piece: Make, sink: MailSink
) -> None:
    """It ended after the backup, and its letters may be out. The next round goes on where it was, and not with these."""
    due_piece(), due_piece()
    faults.plan("round_ending:raise")
    try:
        with pytest.raises(faults.InjectedFault):
            round_on(PLANNED.isoformat())
    finally:
        faults.plan("")
    assert (hold_waiting().held, hold_waiting().held) == (2, 0)
    due_piece()
    recount(PLANNED.isoformat())
    assert round_on(PLANNED.isoformat()).letters == 1
    assert send().sent == 1
    assert states() == {"held": 2, "sent": 1}
    assert go_on(by=StaffFactory(), now=NOW) == 2
    assert send().sent == 2


def test_todays_page_leads_the_desk_to_the_held_letters_and_they_stand_there_with_their_owners(
    three_held: list[Letter], signed_in: SignIn
) -> None:
    desk = signed_in("desk")
    assert f'href="{HELD}"' in desk.get("/").content.decode()
    page = desk.get(HELD).content.decode()
    assert "3 letters wait for your word." in page
    assert "goes a second time" in page
    for letter in three_held:
        assert letter.owner.name in page
    assert "No journal tells of letters that went out after the backup was made." in page


def test_what_the_journals_said_stands_above_the_list(three_held: list[Letter], signed_in: SignIn) -> None:
    replay([gone(three_held[0])])
    restore = latest_restore()
    assert restore is not None
    [heard] = restore.heard
    assert (heard.marked, heard.written, heard.known, heard.unknown) == (1, 0, 0, 0)
    assert restore.journals_end_at == WENT_OUT
    page = signed_in("desk").get(HELD).content.decode()
    assert "No journal tells" not in page
    assert "2 letters wait for your word." in page


def test_journals_that_end_before_the_backup_was_made_tell_nothing_of_the_time_after(
    three_held: list[Letter],
) -> None:
    made_at = (WENT_OUT + timedelta(hours=1)).isoformat()
    Trail.objects.create(deed="restore", subject="book:restore", after={"backup": "house.zip", "made_at": made_at})
    Letter.objects.update(state="waiting")
    hold_waiting()
    replay([gone(three_held[0])])
    restore = latest_restore()
    assert restore is not None
    assert (restore.backup, restore.unheard) == ("house.zip", True)


def test_a_sender_whose_clock_is_ahead_does_not_make_its_old_journal_one_of_the_time_after_the_backup(
    three_held: list[Letter], signed_in: SignIn, sink: MailSink
) -> None:
    known = three_held[0]
    Letter.objects.filter(pk=known.pk).update(state="sent", sent_at=WENT_OUT)
    made_at = WENT_OUT - timedelta(hours=1)  # by the clock of the machine that made it, an hour and more behind
    Trail.objects.create(
        deed="restore", subject="book:restore", after={"backup": "house.zip", "made_at": made_at.isoformat()}
    )
    hold_waiting()
    assert replay([gone(known)]).known == 1
    restore = latest_restore()
    assert restore is not None
    assert restore.unheard
    assert "No journal tells" in signed_in("desk").get(HELD).content.decode()


def test_what_was_heard_and_decided_before_a_second_restore_is_not_told_of_it_whatever_the_clock_says(
    three_held: list[Letter],
) -> None:
    Trail.objects.create(deed="restore", subject="book:restore", after={"backup": "first.zip"})
    hold_waiting()
    replay([gone(three_held[0])])
    go_on(by=StaffFactory(), now=NOW)
    with time_machine.travel(WENT_OUT - timedelta(days=3650), tick=False):
        Trail.objects.create(deed="restore", subject="book:restore", after={"backup": "second.zip"})
        hold_waiting()
    restore = latest_restore()
    assert restore is not None
    assert (restore.backup, list(restore.heard), list(restore.decisions)) == ("second.zip", [], [])
    assert restore.unheard


def test_the_file_of_an_earlier_restore_is_not_told_of_one_by_other_means(three_held: list[Letter]) -> None:
    Trail.objects.create(deed="restore", subject="book:restore", after={"backup": "first.zip"})
    hold_waiting()
    go_on(by=StaffFactory(), now=NOW)
    assert hold_waiting().held == 3
    restore = latest_restore()
    assert restore is not None
    assert restore.backup == ""


def test_let_go_they_go_out_and_two_people_let_them_go_once(
    three_held: list[Letter], signed_in: SignIn, sink: MailSink
) -> None:
    first, second = signed_in("desk"), signed_in("manager")
    assert send().sent == 0
    with time_machine.travel(NOW, tick=False):
        told = first.post(reverse("letters:go_on"), follow=True).content.decode()
    assert "3 letters go out" in told
    late = second.post(reverse("letters:go_on"), follow=True).content.decode()
    assert "Nothing was changed: somebody has decided about these letters already." in late
    assert send().sent == 3
    assert [row.after for row in Trail.objects.filter(deed="letters_go_on")] == [{"letters": 3}]


def test_a_letter_whose_morning_is_to_come_waits_for_it(three_held: list[Letter]) -> None:
    tomorrow = datetime(2099, 3, 19, 9, tzinfo=UTC)
    Letter.objects.filter(pk=three_held[0].pk).update(not_before=tomorrow)
    assert go_on(by=None, now=NOW) == 3
    assert Letter.objects.get(pk=three_held[0].pk).not_before == tomorrow


def test_those_that_are_ticked_are_ended_with_their_reason_and_a_later_round_takes_them_up(
    three_held: list[Letter], signed_in: SignIn, sink: MailSink
) -> None:
    desk = signed_in("desk")
    told = desk.post(reverse("letters:end_held"), to_end(three_held[:2]), follow=True).content.decode()
    assert "2 letters were ended." in told
    assert "Ended: The log has them as sent." in told
    assert states() == {"ended": 2, "held": 1}
    assert {letter.reason for letter in Letter.objects.filter(state="ended")} == {"The log has them as sent."}
    [trail] = Trail.objects.filter(deed="letters_ended")
    assert trail.after == {"letters": [letter.pk for letter in three_held[:2]]}
    assert trail.by is not None
    assert Reminder.objects.filter(ended_on=None).count() == 1
    assert round_on("2026-03-25").letters == 2


def test_ended_twice_or_after_they_went_nothing_changes(three_held: list[Letter], signed_in: SignIn) -> None:
    desk = signed_in("desk")
    desk.post(reverse("letters:end_held"), to_end(three_held[:1]))
    desk.post(reverse("letters:go_on"))
    for _press in range(2):
        late = desk.post(reverse("letters:end_held"), to_end(three_held), follow=True).content.decode()
        assert "Nothing was changed" in late
    assert states() == {"ended": 1, "waiting": 2}
    assert Trail.objects.filter(deed="letters_ended").count() == 1


def test_word_about_an_order_that_nobody_wants_ends_though_it_carries_no_reminder(db: None, signed_in: SignIn) -> None:
    Letter.objects.create(owner=OwnerFactory(), sort="order", language="en", planned_on=PLANNED, not_before=WENT_OUT)
    hold_waiting()
    signed_in("desk").post(reverse("letters:end_held"), to_end([], which="all"))
    assert only_letter().state == LetterState.ENDED


def test_all_of_one_day_and_sort_are_ended_and_no_others(db: None, signed_in: SignIn) -> None:
    many_held(8)
    day = PLANNED.isoformat()
    desk = signed_in("desk")
    shown = desk.get(HELD, {"day": day, "sort": "invitation"}).context["rows"]
    assert len(shown) == 2
    desk.post(reverse("letters:end_held"), to_end([], which="all", day=day, sort="invitation"))
    assert states() == {"ended": 2, "held": 6}
    assert not Letter.objects.filter(state="held", planned_on=PLANNED).exists()


def test_without_a_reason_nothing_ends_and_what_was_ticked_stays(three_held: list[Letter], signed_in: SignIn) -> None:
    answer = signed_in("desk").post(reverse("letters:end_held"), to_end(three_held[1:2], reason=""))
    assert answer.status_code == 422
    assert "No letter was ended yet." in answer.content.decode()
    assert [row["ticked"] for row in answer.context["rows"]] == [False, True, False]
    assert states() == {"held": 3}


def test_where_none_is_ticked_the_reason_stays(three_held: list[Letter], signed_in: SignIn) -> None:
    page = signed_in("desk").post(reverse("letters:end_held"), to_end([])).content.decode()
    assert "No letter is ticked." in page
    assert "The log has them as sent." in page


def test_a_letter_that_is_held_for_another_reason_stays_as_it_is(due_piece: Make, signed_in: SignIn) -> None:
    due_piece()
    round_on(PLANNED.isoformat())
    Letter.objects.update(state="held", reason="")
    desk = signed_in("desk")
    desk.post(reverse("letters:end_held"), to_end([only_letter()]))
    desk.post(reverse("letters:go_on"))
    assert only_letter().state == LetterState.HELD
    assert "No letter waits for your word." in desk.get(HELD).content.decode()


def test_the_list_turns_a_hundred_at_a_time_and_asks_the_same_few_questions(
    db: None, signed_in: SignIn, django_assert_max_num_queries
) -> None:
    many_held(held_letters.PAGE + 7)
    desk = signed_in("desk")
    seen: list[int] = []
    address = HELD
    while address:
        with django_assert_max_num_queries(16):
            context = desk.get(address).context
        seen += [row["letter"].pk for row in context["rows"]]
        address = context["following"]
    oldest_first = Letter.objects.order_by("planned_on", "pk").values_list("pk", flat=True)
    assert seen == list(oldest_first)


@pytest.mark.parametrize("query", ["day=someday", "sort=parcel", "after=yesterday"])
def test_a_list_that_does_not_exist_is_not_found(db: None, signed_in: SignIn, query: str) -> None:
    assert signed_in("desk").get(f"{HELD}?{query}").status_code == 404


@pytest.mark.django_db(transaction=True)
def test_of_two_people_who_decide_at_once_each_letter_follows_one(due_piece: Make) -> None:
    for _piece in range(12):
        due_piece()
    round_on(PLANNED.isoformat())
    hold_waiting()
    manager, counts, start = StaffFactory(role="manager"), [], threading.Barrier(2)

    def press() -> None:
        start.wait()
        try:
            counts.append(go_on(by=manager, now=NOW))
        finally:
            connection.close()

    people = [threading.Thread(target=press) for _person in range(2)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    assert sum(counts) == 12
    assert sum(row.after["letters"] for row in Trail.objects.filter(deed="letters_go_on")) == 12


def test_a_deed_about_many_letters_is_done_some_at_a_time(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service_center.letters.actions.held_lots.LETTERS_AT_ONCE", 3)
    many_held(8)
    sizes: list[int] = []

    def end(lot: Any) -> int:
        sizes.append(lot.update(state=LetterState.ENDED))
        return sizes[-1]

    assert each_lot(held_letters.held_letters(), end) == 8
    assert sizes == [3, 3, 2]


def test_a_journal_of_letters_that_the_book_has_as_sent_is_soon_heard(
    three_held: list[Letter], django_assert_max_num_queries
) -> None:
    Letter.objects.update(state="sent")
    years = [gone(letter) for letter in three_held] * 200
    with django_assert_max_num_queries(4):
        assert replay(years).known == 600


def test_of_a_number_that_is_another_letter_s_by_now_the_journal_is_heard_as_of_a_letter_that_is_lacking(
    three_held: list[Letter],
) -> None:
    Letter.objects.update(state="sent")
    other = replace(gone(three_held[0]), going=replace(gone(three_held[0]).going, planned_on=date(2026, 3, 19)))
    assert replay([other]).written == 1


def test_after_hundreds_of_decisions_the_restore_and_its_warning_stand_above_what_is_still_held(
    three_held: list[Letter], signed_in: SignIn
) -> None:
    replay([gone(three_held[0])])
    desk = StaffFactory()
    Trail.objects.bulk_create(
        Trail(subject="letters", deed="letters_ended", after={"letters": [0]}, reason="seen in the log", by=desk)
        for _one in range(200)
    )
    restore = latest_restore()
    assert restore is not None
    assert restore.journals_end_at == WENT_OUT
    assert len(restore.decisions) == held_letters.DECISIONS_SHOWN
    page = signed_in("desk").get(HELD).content.decode()
    assert "Until you let these letters go, each round is held for you too" in page
    assert "The last letter that the journals know went out" in page


def test_after_some_of_a_list_were_ended_the_desk_stays_where_it_was(db: None, signed_in: SignIn) -> None:
    many_held(8)
    desk, list_of = signed_in("desk"), {"day": PLANNED.isoformat(), "sort": "invitation"}
    [first, second] = Letter.objects.filter(planned_on=PLANNED).order_by("pk")
    answer = desk.post(reverse("letters:end_held"), to_end([first], **list_of))
    assert answer["Location"] == f"{HELD}?day=2026-03-18&sort=invitation"
    assert [row["letter"] for row in desk.get(answer["Location"]).context["rows"]] == [second]
    last = Letter.objects.filter(state="held").order_by("planned_on", "pk").last()
    before = Letter.objects.filter(state="held").order_by("-planned_on", "-pk")[1]
    assert last
    after = f"{before.planned_on.isoformat()}.{before.pk}"
    ended = desk.post(reverse("letters:end_held"), to_end([last], after=after))
    assert ended["Location"] == f"{HELD}?after={after}"
    # Nothing is left on the last page: the list begins at its beginning.
    assert len(desk.get(ended["Location"], follow=True).context["rows"]) == 6
    whole = desk.post(reverse("letters:end_held"), to_end([], which="all", **list_of))
    assert whole["Location"] == HELD


def test_a_count_that_stops_says_more_than(db: None, signed_in: SignIn, monkeypatch: pytest.MonkeyPatch) -> None:
    many_held(4)
    monkeypatch.setattr(listing, "COUNTED_UP_TO", 3)
    for place in ("/", reverse("letters:desk")):
        assert "more than 3 letters that waited in it are held." in signed_in("desk").get(place).content.decode()
