"""Rounds that are held for the desk, and what the desk makes of them (letters.md, sent once)."""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from service_center.access.models import Staff, Trail
from service_center.book.models import Piece
from service_center.letters import actions, faults
from service_center.letters.actions import daily_round, let_round_go, round_of_the_day, take_round_back
from service_center.letters.models import Letter, Reminder, Round
from service_center.letters.queries.held_rounds import held_rounds
from service_center.letters.rules.deciding import Reason
from service_center.letters.rules.unusual import BY_ROUND, Asked, Before, unusual_day, unusually_many, usual_letters
from service_center.letters.rules.words import Channel, LetterState, RoundDecision, Unusual
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import NOW, only_letter, recount, round_on, send
from tests.letters.returned.reports import come_back, delivery_report
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
BY_HAND = {"asked": Asked.BY_HAND}
MONDAY = Before(last_day=date(2026, 3, 16), most_letters=80, ever_wrote=True)


@pytest.mark.parametrize(
    ("day", "unusual"),
    [
        ("2026-03-15", Unusual.BEHIND),
        ("2026-03-16", None),
        ("2026-03-23", None),
        ("2026-03-24", Unusual.AHEAD),
    ],
)
def test_a_day_behind_the_last_or_more_than_a_week_ahead_is_unusual(day: str, unusual: Unusual | None) -> None:
    assert unusual_day(date.fromisoformat(day), MONDAY, Asked.BY_CLOCK) is unusual
    assert unusual_day(date.fromisoformat(day), MONDAY, Asked.BY_HAND) is unusual
    assert unusual_day(date.fromisoformat(day), MONDAY, Asked.CONFIRMED) is None
    assert unusual_day(date.fromisoformat(day), Before(), Asked.BY_CLOCK) is None


def test_three_times_the_most_of_the_last_rounds_is_the_limit_and_never_under_the_houses_number() -> None:
    assert usual_letters(MONDAY, at_least=200) == 240
    assert usual_letters(Before(most_letters=20, ever_wrote=True), at_least=200) == 200
    assert not unusually_many(240, MONDAY, Asked.BY_CLOCK, at_least=200)
    assert unusually_many(241, MONDAY, Asked.BY_HAND, at_least=200)
    assert not unusually_many(241, MONDAY, Asked.CONFIRMED, at_least=200)


def test_the_first_letters_of_a_house_are_held_from_the_clock_and_not_from_a_person() -> None:
    assert unusually_many(201, Before(), Asked.BY_CLOCK, at_least=200)
    assert not unusually_many(100_000, Before(), Asked.BY_HAND, at_least=200)


@pytest.fixture
def desk(db: None) -> Staff:
    staff: Staff = StaffFactory(role="desk")
    return staff


@pytest.fixture
def house_that_writes(due_piece: Make, sink: MailSink) -> None:
    """Yesterday a round wrote a letter, which went out."""
    due_piece()
    daily_round(as_of=date(2026, 3, 18), now=NOW)
    assert send().sent == 1


def test_a_fresh_book_sends_by_hand_without_anybodys_word(due_piece: Make, sink: MailSink, settings: Any) -> None:
    settings.ROUND_LETTERS_USUAL = 1
    due_piece(), due_piece(), due_piece()
    result = daily_round(as_of=date(2026, 3, 18), now=NOW)
    assert (result.letters, result.held) == (3, None)
    assert send().sent == 3


def test_the_clocks_first_large_round_is_held(due_piece: Make, sink: MailSink, settings: Any) -> None:
    settings.ROUND_LETTERS_USUAL = 1
    due_piece(), due_piece()
    result = round_of_the_day(now=datetime(2026, 3, 18, 6, tzinfo=UTC))
    assert result is not None
    assert result.held is Unusual.MANY
    assert set(Letter.objects.values_list("state", flat=True)) == {LetterState.HELD.value}
    assert send().sent == 0


@pytest.mark.usefixtures("house_that_writes")
@pytest.mark.parametrize(("day", "why"), [("2026-03-17", "behind"), ("2026-03-30", "ahead")])
def test_a_round_of_an_unusual_day_is_held_and_let_go(due_piece: Make, desk: Staff, day: str, why: str) -> None:
    due_piece(sold_on=date(2019, 5, 10))
    recount("2026-03-18")
    assert round_on(day, **BY_HAND).held == why
    assert send().sent == 0
    [held] = held_rounds()
    assert (held.letters, held.unusual, held.compared_with) == (1, why, date(2026, 3, 18))
    assert let_round_go(held, by=desk, now=NOW) == 1
    assert send().sent == 1
    assert not held_rounds()
    assert Trail.objects.filter(deed="round_let_go", subject=f"round:{held.pk}").count() == 1


@pytest.mark.usefixtures("house_that_writes")
def test_a_round_taken_back_sends_nothing_and_the_right_day_writes_it_again(due_piece: Make, desk: Staff) -> None:
    due_piece(sold_on=date(2019, 5, 20))
    recount("2026-03-18")
    assert round_on("2026-03-30", **BY_HAND).letters == 1
    [held] = held_rounds()
    assert take_round_back(held, on=date(2026, 3, 19), by=desk) == 1
    assert send().sent == 0
    assert round_on("2026-03-23", **BY_HAND).held is None
    assert send().sent == 1
    assert Reminder.objects.filter(ended_on=None).count() == 2


@pytest.mark.usefixtures("house_that_writes")
def test_rounds_after_a_held_one_are_measured_by_those_that_counted(due_piece: Make) -> None:
    due_piece(sold_on=date(2019, 5, 20))
    recount("2026-03-18")
    assert round_on("2029-03-21", **BY_HAND).held is Unusual.AHEAD
    due_piece(sold_on=date(2019, 5, 18))
    recount("2026-03-18")
    assert round_on("2026-03-19", **BY_HAND).held is None


@pytest.mark.usefixtures("house_that_writes")
def test_a_held_round_adds_nothing_to_a_letter_that_waits(due_piece: Make) -> None:
    owner = OwnerFactory()
    due_piece(owner=owner, sold_on=date(2019, 5, 18))
    due_piece(owner=owner, sold_on=date(2019, 6, 20))
    recount("2026-03-18")
    assert round_on("2026-03-19", **BY_HAND).reminders == 1
    held = round_on("2026-04-21", **BY_HAND)
    assert (held.held, held.reminders) == (Unusual.AHEAD, 0)
    assert [one.reason for one in held.not_written] == [Reason.LETTER_ON_ITS_WAY]
    waiting = Letter.objects.get(state=LetterState.WAITING)
    assert waiting.reminders.count() == 1


def test_two_people_who_decide_differently_are_told(
    due_piece: Make, desk: Staff, sink: MailSink, settings: Any
) -> None:
    settings.ROUND_LETTERS_USUAL = 0
    due_piece()
    daily_round(as_of=date(2026, 3, 18), now=NOW, asked=Asked.BY_CLOCK)
    [held] = held_rounds()
    let_round_go(held, by=desk, now=NOW)
    with pytest.raises(actions.AlreadyDecided, match="let_go"):
        take_round_back(held, on=date(2026, 3, 18), by=desk)
    assert let_round_go(held, by=desk, now=NOW) == 0  # the same word again goes on where it was cut off
    assert send().sent == 1


def test_what_a_killed_round_wrote_goes_with_the_next_one(due_piece: Make, sink: MailSink) -> None:
    """Its letters are held until their round has ended: here another day's round takes them over."""
    due_piece()
    round_on("2026-03-18")
    Round.objects.update(finished_at=None, started_at=datetime(2026, 3, 18, 6, tzinfo=UTC))
    Letter.objects.update(state=LetterState.HELD, reason=BY_ROUND)
    due_piece(sold_on=date(2019, 5, 18))
    recount("2026-03-18")
    assert round_on("2026-03-19").letters == 1
    assert Round.objects.latest("pk").letters == 2
    assert send().sent == 2


@pytest.fixture
def killed_at_the_end() -> Iterator[None]:
    """The next round is killed when it has written all its letters."""
    faults.plan("round_ending:raise")
    yield
    faults.plan("")


@pytest.mark.usefixtures("killed_at_the_end")
@pytest.mark.parametrize("later", [timedelta(minutes=20), timedelta(days=1)])
def test_far_too_many_letters_of_a_killed_round_are_held_though_the_next_one_writes_none(
    due_piece: Make, sink: MailSink, settings: Any, later: timedelta
) -> None:
    settings.ROUND_LETTERS_USUAL = 1
    due_piece(), due_piece(), due_piece()
    now = datetime(2026, 3, 18, 6, tzinfo=UTC)
    with pytest.raises(faults.InjectedFault):
        round_of_the_day(now=now)
    again = round_of_the_day(now=now + later)
    assert again is not None
    assert (again.letters, again.held) == (0, Unusual.MANY)
    assert send().sent == 0
    [held] = held_rounds()
    assert held.letters == 3


@pytest.mark.usefixtures("house_that_writes", "killed_at_the_end")
def test_what_a_killed_round_of_an_unusual_day_wrote_is_shown_to_the_desk_and_does_not_go_with_the_next_one(
    due_piece: Make, desk: Staff
) -> None:
    due_piece(sold_on=date(2019, 6, 15))
    recount("2026-03-18")
    with pytest.raises(faults.InjectedFault):
        daily_round(as_of=date(2026, 4, 20), now=NOW, asked=Asked.BY_CLOCK)
    due_piece()
    recount("2026-03-18")
    assert daily_round(as_of=date(2026, 3, 19), now=NOW + timedelta(minutes=20), asked=Asked.BY_CLOCK).held is None
    assert send().sent == 1
    [held] = held_rounds()
    assert (held.day, held.letters, held.unusual, held.compared_with) == (
        date(2026, 4, 20), 1, Unusual.AHEAD, date(2026, 3, 18),
    )  # fmt: skip
    assert let_round_go(held, by=desk, now=NOW) == 1


def test_the_desks_pages_show_a_held_round_and_its_two_buttons(
    due_piece: Make, client: Client, desk: Staff, settings: Any
) -> None:
    settings.ROUND_LETTERS_USUAL = 0
    piece = due_piece()
    daily_round(as_of=date(2026, 3, 18), now=NOW, asked=Asked.BY_CLOCK)
    held = Round.objects.get()
    client.force_login(desk)
    page = client.get(reverse("letters:desk")).content.decode()
    assert "it has far more letters than usual" in page
    assert reverse("letters:round", args=[held.pk]) in page
    page = client.get(reverse("letters:round", args=[held.pk])).content.decode()
    assert "Let it go" in page and "Take it back" in page and str(piece.owner) in page
    client.post(reverse("letters:decide_round", args=[held.pk]), {"decision": "taken_back"})
    held.refresh_from_db()
    assert (held.decision, held.decided_by) == (RoundDecision.TAKEN_BACK, desk)
    assert Letter.objects.get().state == LetterState.ENDED
    assert client.post(reverse("letters:decide_round", args=[held.pk]), {"decision": "perhaps"}).status_code == 404


@pytest.mark.usefixtures("house_that_writes")
def test_todays_page_leads_the_desk_to_a_round_that_is_held(due_piece: Make, signed_in: Callable[..., Client]) -> None:
    due_piece(sold_on=date(2019, 5, 10))
    recount("2026-03-18")
    round_on("2026-03-30", **BY_HAND)
    [held] = held_rounds()
    address = reverse("letters:round", args=[held.pk])
    assert f'href="{address}"' in signed_in("desk").get("/").content.decode()
    assert address not in signed_in("boutique").get("/").content.decode()


@pytest.fixture
def prepared_of_a_held_round(due_piece: Make, sink: MailSink, settings: Any, desk: Staff) -> Letter:
    """The desk let the clock's first round go; its letter went out, came back, and is prepared for the telephone."""
    settings.ROUND_LETTERS_USUAL = 0
    due_piece()
    daily_round(as_of=date(2026, 3, 18), now=NOW, asked=Asked.BY_CLOCK)
    let_round_go(Round.objects.get(), by=desk, now=NOW)
    assert send().sent == 1
    come_back(delivery_report(only_letter()))
    actions.prepare_unsaid(only_letter(), on=date(2026, 3, 20), by=desk)
    return only_letter()


def test_a_prepared_letter_does_not_hold_its_round_again(prepared_of_a_held_round: Letter) -> None:
    assert prepared_of_a_held_round.state == LetterState.HELD
    assert not held_rounds()


@pytest.mark.parametrize("decision", list(RoundDecision))
def test_a_second_word_on_an_old_page_of_the_round_leaves_a_prepared_letter_to_the_desk(
    prepared_of_a_held_round: Letter, desk: Staff, client: Client, sink: MailSink, decision: RoundDecision
) -> None:
    """Also where the first word, cut off, was that the round is taken back."""
    Round.objects.update(decision=decision)
    owner = prepared_of_a_held_round.owner
    owner.email = "mended@owners.example"
    owner.save()
    client.force_login(desk)
    client.post(reverse("letters:decide_round", args=[Round.objects.get().pk]), {"decision": decision.value})
    assert send().sent == 0
    letter = only_letter()
    assert (letter.state, letter.channel) == (LetterState.HELD, Channel.PAPER)
    assert Reminder.objects.get().ended_on is None
    assert len(sink.messages) == 1


def test_a_letter_on_paper_is_never_claimed_whatever_its_state(prepared_of_a_held_round: Letter) -> None:
    owner = prepared_of_a_held_round.owner
    owner.email = "mended@owners.example"
    owner.save()
    Letter.objects.update(state=LetterState.WAITING)
    assert send().sent == 0
    assert only_letter().state == LetterState.WAITING


@pytest.mark.parametrize(
    ("decision", "word", "left"),
    [(RoundDecision.LET_GO, "Let it go", "waiting"), (RoundDecision.TAKEN_BACK, "Take it back", "ended")],
)
def test_a_decision_that_was_cut_off_is_offered_again_until_no_letter_is_left(
    due_piece: Make, client: Client, desk: Staff, settings: Any, decision: RoundDecision, word: str, left: str
) -> None:
    settings.ROUND_LETTERS_USUAL = 1
    due_piece(), due_piece()
    daily_round(as_of=date(2026, 3, 18), now=NOW, asked=Asked.BY_CLOCK)
    Round.objects.update(decision=decision, decided_at=NOW, decided_by=desk)
    client.force_login(desk)
    address = reverse("letters:round", args=[Round.objects.get().pk])
    assert "Say it again" in client.get(reverse("letters:desk")).content.decode()
    assert "Say it again" in client.get("/").content.decode()
    page = client.get(address).content.decode()
    others = {"Let it go", "Take it back"} - {word}
    assert f">{word}<" in page and not any(f">{one}<" in page for one in others)
    client.post(reverse("letters:decide_round", args=[Round.objects.get().pk]), {"decision": decision.value})
    assert set(Letter.objects.values_list("state", flat=True)) == {left}
    assert f">{word}<" not in client.get(address).content.decode()
    assert "Say it again" not in client.get(reverse("letters:desk")).content.decode()
