"""Owners whom no mail reaches: the same letter on paper, and that they were reached."""

import io
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.intervals.models import DueDate
from service_center.letters import actions, papers
from service_center.letters.actions import release
from service_center.letters.composing.letter import write
from service_center.letters.models import Answer, Letter, OwnerLink, ReachedOtherwise, Reminder, StoppedAddress
from service_center.letters.queries import letter_for_token
from service_center.letters.queries.contents import contents_of
from service_center.letters.queries.reaching import Cursor, Reaching, left_alone, prepared, to_reach
from service_center.letters.queries.unsaid import refused
from service_center.letters.rules.words import Channel, LetterState, LinkPurpose
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import NOW, only_letter, recount, round_on, send
from tests.letters.returned.reports import come_back, delivery_report
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
DAY = date(2026, 3, 18)


@pytest.fixture
def desk(db: None) -> Staff:
    staff: Staff = StaffFactory(role="desk")
    return staff


@pytest.fixture
def without_mail(due_piece: Make) -> Piece:
    """An owner without e-mail address, whose overhaul is to be spoken of from 18 March 2026."""
    piece = due_piece(owner=OwnerFactory(email="", name="Ada Winter", language="de"))
    recount("2026-03-18")
    return piece


def test_who_is_to_be_reached_and_who_is_to_be_left_alone(due_piece: Make) -> None:
    bounced = OwnerFactory()
    StoppedAddress.objects.create(email=bounced.email.lower(), stopped_at=NOW, because="550 5.1.1")
    without = due_piece(owner=OwnerFactory(email=""))
    came_back = due_piece(owner=bounced)
    alone = {
        due_piece(owner=OwnerFactory(letters=False, email="")).serial: "no_more_letters",
        due_piece(owner=OwnerFactory(letters=None)).serial: "no_consent",
        due_piece(owner=None).serial: "no_owner",
        due_piece(owner=OwnerFactory(email=""), status="stolen").serial: "held_stolen",
    }
    due_piece()  # mail reaches this one
    round_on("2026-03-18")
    found = to_reach(DAY)
    rows, following = found.rows, found.following
    assert {(row.owner, row.reason.value) for row in rows} == {
        (without.owner, "no_email"), (bounced, "address_stopped"),
    }  # fmt: skip
    assert {piece for row in rows for piece in row.pieces} == {without, came_back}
    assert following is None
    assert {one.piece.serial: one.reason.value for one in left_alone(DAY)[0]} == alone


def test_page_after_page_everybody_whom_no_mail_reaches_is_named_once(
    due_piece: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    without = [due_piece(owner=OwnerFactory(email="")).owner for _ in range(3)]
    shared = [
        due_piece(owner=OwnerFactory(email=mail)).owner for mail in ("both@owners.example", "Both@owners.example")
    ]
    alone = due_piece(owner=OwnerFactory()).owner
    for email in ("both@owners.example", alone.email.lower()):
        StoppedAddress.objects.create(email=email, stopped_at=NOW, because="550 5.1.1")
    recount("2026-03-18")
    for most, looked_at in ((1, 4), (2, 2), (25, 1)):
        monkeypatch.setattr("service_center.letters.queries.reaching.PAGE", most)
        monkeypatch.setattr("service_center.letters.queries.reaching.AT_A_LOOK", looked_at)
        named, after = [], Cursor()
        while after is not None:
            page = to_reach(DAY, Cursor.from_text(str(after)))
            named += [row.owner for row in page.rows]
            after = page.following
        assert named == [*without, *shared, alone]


def test_an_owner_whose_letter_was_refused_today_has_no_second_one_that_day(
    due_piece: Make, desk: Staff, sink: MailSink
) -> None:
    piece = due_piece()
    round_on("2026-03-18")
    sink.fail("rcpt", "550 5.1.1 no such mailbox")
    assert send().refused == 1
    due_piece(owner=piece.owner)
    recount("2026-03-18")
    with pytest.raises(actions.NothingToSay):
        actions.prepare(piece.owner, as_of=DAY, by=desk)
    assert actions.prepare(piece.owner, as_of=date(2026, 3, 19), by=desk).planned_on == date(2026, 3, 19)


def test_what_is_told_counts_as_the_step_and_nothing_is_said_twice(
    without_mail: Piece, desk: Staff, sink: MailSink
) -> None:
    owner = without_mail.owner
    assert owner is not None
    round_on("2026-03-18")
    letter = actions.prepare(owner, as_of=DAY, by=desk)
    assert to_reach(DAY) == Reaching([], None)
    assert list(prepared()) == [letter]
    with pytest.raises(actions.NothingToSay):
        actions.prepare(owner, as_of=DAY, by=desk)
    actions.note_reached(letter, Channel.TELEPHONE, on=DAY, note="Asked to call again in May.", by=desk)
    assert not prepared()
    letter.refresh_from_db()
    assert (letter.state, letter.channel, letter.message_id) == (LetterState.SENT, "telephone", None)
    # Even with an address the invitation never comes by mail; its nudge does, 42 days after the call.
    owner.email = "ada@owners.example"
    owner.save()
    assert round_on("2026-04-28").reminders == 0
    assert round_on("2026-04-29").reminders == 1
    assert send().sent == 1
    assert list(Reminder.objects.order_by("pk").values_list("step", flat=True)) == ["invitation", "nudge"]


def refused_for_good(due_piece: Make, sink: MailSink) -> Letter:
    due_piece()
    round_on("2026-03-18")
    sink.fail("rcpt", "550 5.1.1 no such mailbox")
    send()
    return only_letter()


def test_whose_mailbox_refused_the_letter_stands_on_the_list_and_is_told_the_same(
    due_piece: Make, desk: Staff, client: Client, sink: MailSink
) -> None:
    letter = refused_for_good(due_piece, sink)
    client.force_login(desk)
    address = reverse("letters:letter", args=[letter.pk])
    assert address in client.get(reverse("letters:reach")).content.decode()
    page = client.get(address).content.decode()
    assert reverse("letters:release", args=[letter.pk]) not in page  # by mail it would not go out
    prepare = reverse("letters:prepare_unsaid", args=[letter.pk])
    assert prepare in page
    for _press in range(2):
        client.post(prepare)
    letter.refresh_from_db()
    assert (letter.state, letter.channel, list(prepared())) == ("held", "paper", [letter])
    assert list(refused()) == []
    actions.note_reached(letter, Channel.TELEPHONE, on=DAY, note="", by=desk)
    round_on("2026-03-19")
    assert (send().sent, Letter.objects.count(), Reminder.objects.get().ended_on) == (0, 1, None)


def test_a_refused_letter_whose_address_is_mended_goes_by_mail_and_not_otherwise(
    due_piece: Make, desk: Staff, client: Client, sink: MailSink
) -> None:
    letter = refused_for_good(due_piece, sink)
    letter.owner.email = "another@owners.example"
    letter.owner.save()
    assert list(refused()) == []
    with pytest.raises(actions.NothingToSay):
        actions.prepare_unsaid(letter, on=DAY, by=desk)
    client.force_login(desk)
    with time_machine.travel(NOW, tick=False):
        client.post(reverse("letters:release", args=[letter.pk]))
    assert (send().sent, send().sent) == (1, 0)
    assert [mail.recipients for mail in sink.messages] == [("another@owners.example",)]


def test_what_was_settled_meanwhile_is_not_told_of_a_refused_letter(
    due_piece: Make, desk: Staff, sink: MailSink
) -> None:
    letter = refused_for_good(due_piece, sink)
    DueDate.objects.update(held="workshop")
    assert list(refused()) == []
    with pytest.raises(actions.NothingToSay):
        actions.prepare_unsaid(letter, on=DAY, by=desk)


def test_a_prepared_letter_is_never_mailed(without_mail: Piece, desk: Staff, sink: MailSink) -> None:
    owner = without_mail.owner
    assert owner is not None
    letter = actions.prepare(owner, as_of=DAY, by=desk)
    owner.email = "ada@owners.example"
    owner.save()
    with pytest.raises(actions.NotInThatState):
        release(letter, by=desk, now=NOW)
    assert round_on("2026-03-19").reminders == 0
    assert send().sent == 0
    assert sink.messages == []


def test_who_was_not_reached_stands_on_the_list_again(without_mail: Piece, desk: Staff) -> None:
    owner = without_mail.owner
    assert owner is not None
    letter = actions.prepare(owner, as_of=DAY, by=desk)
    actions.put_back(letter, on=DAY, by=desk)
    assert [row.owner for row in to_reach(DAY).rows] == [owner]
    with pytest.raises(actions.NotPrepared, match="ended"):
        actions.note_reached(letter, Channel.PAPER, on=DAY, note="", by=desk)
    assert actions.prepare(owner, as_of=DAY, by=desk).pk != letter.pk
    assert Reminder.objects.count() == 1


def test_whoever_mail_reaches_or_who_said_no_is_not_prepared(due_piece: Make, desk: Staff) -> None:
    for owner in (OwnerFactory(), OwnerFactory(letters=False, email=""), OwnerFactory(letters=None, email="")):
        due_piece(owner=owner)
        with pytest.raises(actions.NothingToSay):
            actions.prepare(owner, as_of=DAY, by=desk)
    assert not Letter.objects.exists()


def test_the_paper_says_what_the_mail_would_and_its_link_opens_the_page(without_mail: Piece, desk: Staff) -> None:
    owner = without_mail.owner
    assert owner is not None
    letter = actions.prepare(owner, as_of=DAY, by=desk)
    links = actions.links_on_paper(letter, now=NOW)
    text = " ".join(PdfReader(io.BytesIO(papers.on_paper(letter, links, NOW))).pages[0].extract_text().split())
    mailed = write(contents_of([letter], now=NOW)[letter.pk], links)
    for line in filter(None, mailed.unwrapped.splitlines()):
        assert " ".join(line.split()) in text, line
    assert mailed.subject in text
    token = links.page.rstrip("/").rpartition("/")[2]
    assert letter_for_token(token, LinkPurpose.PAGE, NOW) == letter
    assert OwnerLink.objects.filter(letter=letter).count() == 2


@time_machine.travel("2026-03-18 10:00", tick=False)
def test_the_desk_walks_from_the_list_to_the_answer(without_mail: Piece, client: Client, desk: Staff) -> None:
    client.force_login(desk)
    page = client.get(reverse("letters:reach")).content.decode()
    assert "no e-mail address" in page.lower()
    answer = client.post(reverse("letters:prepare", args=[without_mail.owner_id]))
    letter = only_letter()
    assert answer["Location"] == reverse("letters:letter", args=[letter.pk])
    page = client.get(answer["Location"]).content.decode()
    assert "Print the letter" in page and "Let it go" not in page
    assert client.post(reverse("letters:on_paper", args=[letter.pk]))["Content-Type"] == "application/pdf"
    said: dict[str, Any] = {"channel": "telephone", "on": "2026-03-18", "answer": "not_now"}
    refused = client.post(reverse("letters:reached", args=[letter.pk]), said)
    assert refused.status_code == 422
    assert "This answer needs a day." in refused.content.decode()
    done = client.post(reverse("letters:reached", args=[letter.pk]), said | {"day": "2026-06-01"}, follow=True)
    assert "Written down." in done.content.decode()
    assert (Answer.objects.get().choice, Answer.objects.get().day) == ("not_now", date(2026, 6, 1))
    assert ReachedOtherwise.objects.get().recorded_by == desk
    assert client.post(reverse("letters:reached", args=[letter.pk]), said | {"day": "2026-06-01"}).status_code == 302
    assert ReachedOtherwise.objects.count() == 1


@time_machine.travel("2026-03-18 10:00", tick=False)
def test_an_old_page_prints_no_letter_that_has_ended_and_says_why(
    without_mail: Piece, client: Client, desk: Staff
) -> None:
    client.force_login(desk)
    client.post(reverse("letters:prepare", args=[without_mail.owner_id]))
    letter = only_letter()
    actions.put_back(letter, on=DAY, by=desk)
    answer = client.post(reverse("letters:on_paper", args=[letter.pk]), follow=True)
    assert "Nothing was printed: the letter is ended now." in answer.content.decode()
    assert not OwnerLink.objects.filter(letter=letter).exists()


def test_an_old_page_of_a_letter_that_was_put_back_says_what_became_of_it(
    due_piece: Make, client: Client, desk: Staff, sink: MailSink
) -> None:
    """It came back, was prepared, and a colleague put it back: it is the one that went by mail again."""
    due_piece()
    round_on("2026-03-18")
    send()
    letter = only_letter()
    come_back(delivery_report(letter))
    actions.prepare_unsaid(letter, on=DAY, by=desk)
    links = OwnerLink.objects.count()
    actions.put_back(letter, on=DAY, by=desk)
    client.force_login(desk)
    printed = client.post(reverse("letters:on_paper", args=[letter.pk]), follow=True)
    assert "Nothing was printed: the letter is sent now." in printed.content.decode()
    assert OwnerLink.objects.count() == links
    told: dict[str, Any] = {"channel": "telephone", "on": timezone.localdate().isoformat(), "answer": ""}
    for name, said in (("reached", told), ("put_back", {})):
        answer = client.post(reverse(f"letters:{name}", args=[letter.pk]), said, follow=True)
        assert "Nothing was changed: the letter is sent now." in answer.content.decode(), name


def test_a_letter_that_was_told_may_be_printed_still(without_mail: Piece, client: Client, desk: Staff) -> None:
    owner = without_mail.owner
    assert owner is not None
    letter = actions.prepare(owner, as_of=DAY, by=desk)
    actions.note_reached(letter, Channel.PAPER, on=DAY, note="", by=desk)
    client.force_login(desk)
    assert client.post(reverse("letters:on_paper", args=[letter.pk]))["Content-Type"] == "application/pdf"


def test_a_letter_that_waits_still_when_the_address_goes_is_prepared_with_what_else_is_owed(
    due_piece: Make, client: Client, desk: Staff, sink: MailSink
) -> None:
    """One letter an owner a day: the one that waits, about both pieces, and nothing of it is mailed."""
    first = due_piece()
    round_on("2026-03-18")
    owner = first.owner
    assert owner is not None
    waits = only_letter()
    due_piece(owner=owner, sold_on=date(2019, 5, 16))
    owner.email = ""
    owner.save()
    recount("2026-03-18")
    client.force_login(desk)
    with time_machine.travel("2026-03-18 10:00", tick=False):
        answer = client.post(reverse("letters:prepare", args=[owner.pk]))
    letter = only_letter()
    assert answer["Location"] == reverse("letters:letter", args=[waits.pk])
    assert (letter.pk, letter.state, letter.channel) == (waits.pk, "held", "paper")
    assert Reminder.objects.filter(letter=letter, ended_on=None).count() == 2
    assert send().sent == 0
    assert list(prepared()) == [letter]
