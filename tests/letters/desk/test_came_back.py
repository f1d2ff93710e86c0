"""Owners whose letter was sent and came back for good: the same letter on paper, at once, and no other."""

import io
from collections.abc import Callable
from datetime import date, timedelta
from itertools import count

import pytest
from django.db import connection
from django.db.models import F
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from service_center.access.models import Staff, Trail
from service_center.book.actions import set_letters
from service_center.book.models import Piece
from service_center.intervals.models import DueDate
from service_center.letters import actions
from service_center.letters.actions.returning import take_mail
from service_center.letters.models import Letter, Reminder, StoppedAddress
from service_center.letters.queries.reaching import prepared, to_reach
from service_center.letters.queries.unsaid import came_back, refused
from service_center.letters.rules.journal import Going, Gone, GoneReminder
from service_center.letters.rules.words import AnswerChoice, Channel
from service_center.owner_pages.actions.erasing import erase
from service_center.owner_pages.data_words import sent_in_words
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import NOW, only_letter, recount, round_on, send
from tests.letters.returned.reports import come_back, delivery_report, full
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
DAY = date(2026, 3, 18)
# The nudge's: 42 days after the letter left the house, which is today.
NUDGE = timezone.localdate() + timedelta(days=42)


@pytest.fixture
def desk(db: None) -> Staff:
    staff: Staff = StaffFactory(role="desk")
    return staff


@pytest.fixture
def sent(due_piece: Make, sink: MailSink) -> Letter:
    """A letter that its mail server took."""
    due_piece(owner=OwnerFactory(name="Ada Winter", language="en", phone="+41 44 000 00 00"))
    round_on("2026-03-18")
    send()
    return only_letter()


@pytest.fixture
def bounced(sent: Letter) -> Letter:
    """A letter that came back for good."""
    come_back(delivery_report(sent))
    return sent


def names_of(page: bytes) -> int:
    return page.decode().count("Ada Winter")


def test_whose_letter_came_back_stands_on_the_list_at_once_with_why(sent: Letter, desk: Staff, client: Client) -> None:
    client.force_login(desk)
    reach, address = reverse("letters:reach"), reverse("letters:letter", args=[sent.pk])
    assert names_of(client.get(reach).content) == 0
    assert "Tell the owner, or post it" not in client.get(address).content.decode()
    come_back(delivery_report(sent))
    page = client.get(reach).content.decode()
    assert address in page
    assert "There is no such mailbox." in page
    assert "550 5.1.1 &lt;nobody@owners.example&gt;: user unknown" in page
    assert "Tell the owner, or post it" in client.get(address).content.decode()
    assert "Try again" not in client.get(address).content.decode()


def test_it_is_printed_and_told_as_the_same_letter_and_never_mailed_again(
    bounced: Letter, desk: Staff, client: Client, sink: MailSink
) -> None:
    client.force_login(desk)
    mailed = sink.messages[0].parsed
    went_out = bounced.sent_at
    for _press in range(2):
        client.post(reverse("letters:prepare_unsaid", args=[bounced.pk]))
    letter = only_letter()
    assert (letter.state, letter.channel, letter.message_id) == ("held", "paper", bounced.message_id)
    assert (list(prepared()), list(came_back())) == ([letter], [])
    paper = client.post(reverse("letters:on_paper", args=[letter.pk]))
    text = " ".join(PdfReader(io.BytesIO(paper.content)).pages[0].extract_text().split())
    assert str(mailed["Subject"]) in text
    assert Piece.objects.get().serial in text
    # A new address changes nothing of a letter that is prepared.
    letter.owner.email = "another@owners.example"
    letter.owner.save()
    with pytest.raises(actions.NotInThatState):
        actions.release(letter, by=desk, now=NOW)
    round_on("2026-03-19")
    assert send().sent == 0
    actions.note_reached(letter, Channel.PAPER, on=DAY, note="", by=desk)
    round_on("2026-03-20")
    assert (send().sent, Letter.objects.count(), Reminder.objects.get().ended_on) == (0, 1, None)
    assert len(sink.messages) == 1
    assert list(came_back()) == []
    [was] = Trail.objects.filter(deed="letter_prepared").values_list("before", flat=True)
    assert went_out is not None
    assert was == {"state": "sent", "sent_at": went_out.isoformat()}


def test_the_next_step_counts_from_the_day_the_owner_was_told(bounced: Letter, desk: Staff) -> None:
    actions.prepare_unsaid(bounced, on=DAY, by=desk)
    told = timezone.localdate() + timedelta(days=10)
    actions.note_reached(bounced, Channel.TELEPHONE, on=told, note="", by=desk)
    assert list(came_back()) == []
    owner = bounced.owner
    for days, said in ((41, False), (42, True)):
        recount((told + timedelta(days=days)).isoformat())
        assert bool(to_reach(told + timedelta(days=days)).rows) is said
    nudge = actions.prepare(owner, as_of=told + timedelta(days=42), by=desk)
    assert [one.step for one in nudge.reminders.all()] == ["nudge"]


def test_one_row_an_owner_though_the_next_step_comes_up(bounced: Letter, desk: Staff, client: Client) -> None:
    recount(NUDGE.isoformat())
    assert [one.pk for one in came_back()] == [bounced.pk]
    assert to_reach(NUDGE).rows == []
    with pytest.raises(actions.NothingToSay):
        actions.prepare(bounced.owner, as_of=NUDGE, by=desk)
    assert Letter.objects.count() == 1


def test_a_restore_after_it_was_prepared_takes_it_not_for_told(bounced: Letter, desk: Staff) -> None:
    """The journal knows that it left the house; the book knows that too, and that it came back."""
    actions.prepare_unsaid(bounced, on=DAY, by=desk)
    reminder = Reminder.objects.select_related("piece").get()
    going = Going(
        bounced.pk, bounced.owner.code, "en", bounced.planned_on, str(bounced.message_id), 1,
        (GoneReminder(reminder.piece.serial, reminder.kind, reminder.starts_on, reminder.step, reminder.due_on),), (),
    )  # fmt: skip
    result = actions.replay([Gone(going, NOW, "250 ok")])
    assert (result.known, result.marked, only_letter().state) == (1, 0, "held")


def test_a_letter_told_after_it_takes_its_place(bounced: Letter, desk: Staff) -> None:
    """As the desk prepared them before letters that came back stood on the list."""
    reminder = Reminder.objects.get()
    nudge = Letter.objects.create(
        owner=bounced.owner, channel="paper", language="en", planned_on=NUDGE, state="held", not_before=NOW
    )
    Reminder.objects.create(
        piece=reminder.piece, kind=reminder.kind, starts_on=reminder.starts_on, step="nudge", letter=nudge,
        due_on=reminder.due_on,
    )  # fmt: skip
    assert list(came_back()) == []


def test_put_back_it_is_the_letter_that_came_back_and_no_round_writes_it_anew(
    bounced: Letter, desk: Staff, sink: MailSink
) -> None:
    actions.prepare_unsaid(bounced, on=DAY, by=desk)
    letter = only_letter()
    assert sent_in_words(letter) == f"sent to {letter.email}"  # not on paper: nobody posted it
    actions.put_back(letter, on=DAY, by=desk)
    letter = only_letter()
    assert (letter.state, letter.channel, letter.sent_at) == ("sent", "mail", bounced.sent_at)
    assert list(came_back()) == [letter]
    assert Reminder.objects.get().ended_on is None
    letter.owner.email = "another@owners.example"
    letter.owner.save()
    assert (round_on("2026-03-19").letters, send().sent, len(sink.messages)) == (0, 0, 1)


def test_a_new_address_takes_them_off_and_the_nudge_goes_there(bounced: Letter, desk: Staff, sink: MailSink) -> None:
    bounced.owner.email = "another@owners.example"
    bounced.owner.save()
    assert list(came_back()) == []
    with pytest.raises(actions.NothingToSay):
        actions.prepare_unsaid(bounced, on=DAY, by=desk)
    # That one is stopped as well, by somebody else's letter: of what was said there nothing came back.
    StoppedAddress.objects.create(email="another@owners.example", stopped_at=NOW, because="550 5.1.1")
    assert list(came_back()) == []
    # Without any address it is as before.
    bounced.owner.email = ""
    bounced.owner.save()
    assert list(came_back()) == [bounced]


def test_a_stop_that_the_desk_lifted_takes_them_off_for_good(bounced: Letter, desk: Staff) -> None:
    actions.write_again(StoppedAddress.objects.get(), by=desk, reason="Confirmed by telephone.", at=NOW)
    assert list(came_back()) == []
    StoppedAddress.objects.create(email=bounced.owner.email.lower(), stopped_at=NOW, because="550 5.1.1")
    assert list(came_back()) == []
    take_mail(
        delivery_report(bounced, number="new", day="Thu, 26 Nov 2026 09:00:00 +0000"), came_at=NOW + timedelta(days=2)
    )
    assert list(came_back()) == [bounced]


@pytest.mark.parametrize("status", ["5.2.2", "5.7.1", "4.4.7"])
def test_what_fails_for_now_or_is_the_houses_to_mend_is_no_reason(sent: Letter, status: str) -> None:
    come_back(delivery_report(sent, status=status, diagnostic=f"smtp; 550 {status} no"))
    StoppedAddress.objects.create(email=sent.owner.email.lower(), stopped_at=NOW, because="of other letters")
    assert list(came_back()) == []


def test_three_that_failed_for_now_stop_the_address_and_are_no_reason(sent: Letter) -> None:
    for day in (1, 9, 20):
        come_back(full(sent, day))
    assert StoppedAddress.objects.exists()
    assert list(came_back()) == []


def test_a_refusal_of_an_earlier_try_elsewhere_is_no_reason(due_piece: Make, desk: Staff, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    sink.fail("rcpt", "550 5.1.1 no such mailbox")
    send()
    letter = only_letter()
    assert list(refused()) == [letter]
    letter.owner.email = "another@owners.example"
    letter.owner.save()
    actions.release(letter, by=desk, now=NOW)
    send()
    assert only_letter().state == "sent"
    StoppedAddress.objects.create(email="another@owners.example", stopped_at=NOW, because="552 5.2.2")
    assert list(came_back()) == []
    letter.owner.email = ""
    letter.owner.save()
    # A transaction has one moment, and a test is one.
    Letter.objects.update(dot_at=F("dot_at") + timedelta(seconds=1))
    assert list(came_back()) == []


def answer(letter: Letter, desk: Staff) -> None:
    actions.record_answer(
        owner=letter.owner, letter=letter, piece=Piece.objects.get(), choice=AnswerChoice.NOT_NOW,
        day=timezone.localdate() + timedelta(days=90), boutique=None, on=timezone.localdate(), by=desk,
    )  # fmt: skip


def no_more(letter: Letter, _desk: Staff) -> None:
    set_letters(letter.owner, wanted=False)


def serviced(_letter: Letter, _desk: Staff) -> None:
    DueDate.objects.update(starts_on=date(2026, 11, 1))


def in_the_house(_letter: Letter, _desk: Staff) -> None:
    DueDate.objects.update(held="workshop")


def sold(_letter: Letter, _desk: Staff) -> None:
    Piece.objects.update(owner=OwnerFactory())


def erased(letter: Letter, desk: Staff) -> None:
    erase(letter.owner, on=timezone.localdate(), by=desk, now=timezone.now())


@pytest.mark.parametrize("settle", [answer, no_more, serviced, in_the_house, sold, erased])
def test_what_was_settled_meanwhile_is_not_told(
    bounced: Letter, desk: Staff, settle: Callable[[Letter, Staff], None]
) -> None:
    assert list(came_back()) == [bounced]
    settle(bounced, desk)
    assert list(came_back()) == []
    with pytest.raises(actions.NothingToSay):
        actions.prepare_unsaid(bounced, on=DAY, by=desk)
    assert only_letter().state == "sent"


def test_of_several_pieces_only_those_are_told_that_were_not_settled(
    due_piece: Make, desk: Staff, client: Client, sink: MailSink
) -> None:
    owner = OwnerFactory(language="en")
    kept, done = due_piece(owner=owner), due_piece(owner=owner)
    round_on("2026-03-18")
    send()
    letter = only_letter()
    come_back(delivery_report(letter))
    DueDate.objects.filter(piece=done).update(starts_on=date(2026, 11, 1))
    actions.prepare_unsaid(letter, on=DAY, by=desk)
    assert list(Reminder.objects.filter(ended_on=None).values_list("piece", flat=True)) == [kept.pk]
    client.force_login(desk)
    paper = client.post(reverse("letters:on_paper", args=[letter.pk]))
    text = PdfReader(io.BytesIO(paper.content)).pages[0].extract_text()
    assert (kept.serial in text, done.serial in text) == (True, False)


def test_the_page_asks_as_often_however_many_came_back(
    due_piece: Make, desk: Staff, client: Client, sink: MailSink
) -> None:
    client.force_login(desk)
    numbers, asked = count(), []
    for more in (1, 4):
        for _piece in range(more):
            due_piece()
        round_on("2026-03-18")
        send()
        for letter in Letter.objects.filter(reports=None):
            come_back(delivery_report(letter, number=f"report-{next(numbers)}"))
        client.get(reverse("letters:reach"))  # what is asked once a process
        with CaptureQueriesContext(connection) as caught:
            page = client.get(reverse("letters:reach"))
        assert page.content.decode().count("There is no such mailbox.") == Letter.objects.count()
        asked.append(len(caught))
    assert asked[0] == asked[1]
