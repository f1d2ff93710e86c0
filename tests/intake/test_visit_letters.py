"""An owner hears of each change of a visit once, with an entry for their calendar (RFC 5545, 5546, 6047)."""

import email.policy
from datetime import date, time
from email.message import EmailMessage
from email.parser import BytesParser
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.db.models import Q
from django.test import Client
from icalendar import Calendar, Event

from service_center.book.models import Boutique
from service_center.intake.visits import actions
from service_center.intake.visits.models import Visit
from service_center.letters import actions as of_letters
from service_center.letters.actions import SendResult, daily_round, go_on, hold_waiting, replay, send_waiting
from service_center.letters.actions.claiming import claim
from service_center.letters.actions.settling import commit_the_dot
from service_center.letters.models import Confirmation, Letter, OwnerLink, StoppedAddress
from service_center.letters.queries.listing import letter_records
from service_center.letters.rules.journal import Going, Gone, gone_from, line_of
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory
from tests.intake.visits import FRIDAY, NOW, TODAY, book, keep_hours, letter_about
from tests.letters.sink import MailSink, Received

pytestmark = pytest.mark.django_db


@pytest.fixture
def boutique() -> Boutique:
    return keep_hours(BoutiqueFactory())


def send() -> SendResult:
    return send_waiting(now=NOW, as_of=TODAY, until_empty=True)


def move(visit: Visit, at: str) -> Visit:
    wish = actions.Wish(visit.boutique, FRIDAY, time.fromisoformat(at))
    return actions.move(visit, wish, form_key=uuid4(), on=TODAY, now=NOW)


def cancel(visit: Visit) -> Visit:
    return actions.cancel(visit, ask_again=date(2026, 9, 1), form_key=uuid4(), on=TODAY, now=NOW)


def entry(mail: Received) -> tuple[str, Calendar, Event]:
    """The calendar part beside text and HTML: its method by the header, the calendar, and its one event."""
    [part] = [one for one in mail.parsed.walk() if one.get_content_type() == "text/calendar" and not one.get_filename()]
    calendar = Calendar.from_ical(part.get_content())
    [event] = calendar.walk("VEVENT")
    return str(part.get_param("method")), calendar, event


def test_a_booked_visit_is_confirmed_by_mail_with_its_entry(boutique: Boutique, sink: MailSink) -> None:
    piece = PieceFactory()
    visit = book(boutique, piece, at="10:30")
    assert send().sent == 1
    [mail] = sink.messages
    assert mail.subject == "Your visit on 12 June 2026 at 10:30"
    for form in (" ".join(mail.text.split()), mail.html):
        assert "Your visit is booked: 12 June 2026, 10:30, Harrowmere." in form
        assert piece.serial in form
    method, calendar, event = entry(mail)
    assert method == str(calendar["METHOD"]) == "PUBLISH"
    assert str(event["UID"]).startswith(f"{visit.key}@")
    assert int(event["SEQUENCE"]) == 0
    assert event["DTSTART"].to_ical() == b"20260612T093000Z"


def test_text_html_and_entry_are_three_forms_of_one_message_and_the_entry_is_a_file_too(
    boutique: Boutique, sink: MailSink
) -> None:
    """RFC 6047, 2.4 and 2.5: a form of the message for programs that keep calendars, a file for the others."""
    book(boutique, PieceFactory(owner=OwnerFactory(language="ja", name="山田 花子")))
    send()
    parsed = BytesParser(policy=email.policy.strict).parsebytes(sink.messages[0].content)
    assert isinstance(parsed, EmailMessage)
    assert parsed.get_content_type() == "multipart/mixed"
    forms, file = parsed.iter_parts()
    assert [part.get_content_type() for part in forms.iter_parts()] == ["text/plain", "text/html", "text/calendar"]  # type: ignore[attr-defined]
    assert (file.get_filename(), file.get_content_disposition()) == ("visit.ics", "attachment")
    assert all(part.defects == [] for part in parsed.walk())
    assert sink.messages[0].content.isascii()


def test_a_moved_visit_changes_the_entry_and_a_cancelled_one_takes_it_away(boutique: Boutique, sink: MailSink) -> None:
    visit = book(boutique, PieceFactory(), at="10:00")
    send()
    visit = move(visit, "11:30")
    send()
    cancel(visit)
    send()
    told = [entry(mail) for mail in sink.messages]
    assert [method for method, _calendar, _event in told] == ["PUBLISH", "PUBLISH", "CANCEL"]
    assert len({str(event["UID"]) for _method, _calendar, event in told}) == 1
    assert [int(event["SEQUENCE"]) for _method, _calendar, event in told] == [0, 1, 2]
    assert [str(event["STATUS"]) for _method, _calendar, event in told] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]
    assert [mail.subject for mail in sink.messages][1:] == [
        "Your visit is now on 12 June 2026 at 11:30",
        "Your visit on 12 June 2026 is cancelled",
    ]


def test_a_cancelled_visit_cannot_be_moved_any_more_and_its_letter_offers_another(
    boutique: Boutique, sink: MailSink
) -> None:
    visit = book(boutique, PieceFactory(), at="10:00")
    send()
    cancel(visit)
    send()
    booked, cancelled = sink.messages
    for form in ("text", "html"):
        assert "See, move or cancel the visit" in getattr(booked, form)
        assert "move or cancel" not in getattr(cancelled, form)
        assert "Book another visit" in getattr(cancelled, form)


def test_what_has_not_gone_out_gives_way_to_the_latest_word(boutique: Boutique, sink: MailSink) -> None:
    move(move(book(boutique, PieceFactory(), at="10:00"), "11:00"), "11:30")
    assert send().sent == 1
    assert sink.messages[0].subject == "Your visit is now on 12 June 2026 at 11:30"
    assert sorted(Letter.objects.filter(sort="confirmation").values_list("state", flat=True)) == [
        "ended", "ended", "sent",
    ]  # fmt: skip


def pauses_are_over() -> None:
    Letter.objects.filter(state="waiting").update(not_before=NOW)


def first_word() -> Letter:
    return Letter.objects.get(sort="confirmation", confirmation__sequence=0)


NEW_HOUR = "Your visit is now on 12 June 2026 at 11:30"


def test_an_hour_that_was_put_off_at_the_end_of_its_message_never_follows_the_new_one(
    boutique: Boutique, sink: MailSink
) -> None:
    visit = book(boutique, PieceFactory(), at="10:00")
    sink.fail("dot", "451 4.3.0 later")
    assert send().sent == 0
    assert first_word().dot_at is not None
    move(visit, "11:30")
    send()
    pauses_are_over()
    send()
    assert [mail.subject for mail in sink.messages] == [NEW_HOUR]
    assert first_word().state == "ended"


@pytest.mark.parametrize("was", ["held", "refused", "handing_over", "at_the_dot", "in_doubt"])
def test_wherever_the_earlier_word_was_when_the_visit_moved_it_never_follows_the_new_hour(
    boutique: Boutique, sink: MailSink, was: str
) -> None:
    desk = StaffFactory(role="desk")
    visit = book(boutique, PieceFactory(), at="10:00")
    Letter.objects.filter(sort="confirmation").update(state=was, attempt=1, dot_at=NOW)
    move(visit, "11:30")
    assert send().sent == 1
    # What may become of it then: a sender puts it off, and the desk presses whatever it is offered.
    Letter.objects.filter(state__in=["handing_over", "at_the_dot"]).update(state="waiting", reason="not taken for now")
    if first_word().state == "in_doubt":
        of_letters.settle_doubt(first_word(), of_letters.Settled.SENT_AGAIN, by=desk, now=NOW)
    if first_word().state in ("held", "refused"):
        of_letters.release(first_word(), by=desk)
    pauses_are_over()
    assert send().sent == 0
    assert [mail.subject for mail in sink.messages] == [NEW_HOUR]
    assert (first_word().state, first_word().reason) == ("ended", "a later word about the visit goes instead")


def test_an_hour_in_doubt_does_not_follow_a_move_that_no_letter_could_tell(boutique: Boutique, sink: MailSink) -> None:
    """No letter reached the owner when the visit moved; the desk mends the address, and then settles the doubt."""
    visit = book(boutique, PieceFactory(), at="10:00")
    sink.fail("after", "drop")
    assert send().in_doubt == 1
    StoppedAddress.objects.create(email=visit.owner.email.lower(), stopped_at=NOW, because="550")
    move(visit, "11:30")
    StoppedAddress.objects.all().delete()
    of_letters.settle_doubt(first_word(), of_letters.Settled.SENT_AGAIN, by=StaffFactory(role="desk"), now=NOW)
    pauses_are_over()
    assert send().sent == 0
    assert len(sink.messages) == 1


def test_a_sender_with_the_earlier_word_in_hand_hangs_up_before_the_end_of_the_message(boutique: Boutique) -> None:
    visit = book(boutique, PieceFactory(), at="10:00")
    _taken, [in_hand] = claim(Q(), by="we", at_most=5, on=TODAY, now=NOW)
    move(visit, "11:30")
    assert not commit_the_dot(in_hand)
    assert first_word().state == "ended"


def test_whoever_wants_no_letters_is_told_of_a_visit_all_the_same(boutique: Boutique, sink: MailSink) -> None:
    piece = PieceFactory(owner=OwnerFactory(letters=True))
    visit = book(boutique, piece)
    piece.owner.letters = False
    piece.owner.save()
    assert send().sent == 1
    cancel(visit)
    assert send().sent == 1
    assert sink.messages[0].parsed["List-Unsubscribe"] is None
    assert "No more letters" not in sink.messages[0].text


@pytest.mark.parametrize("why", ["no address", "stopped"])
def test_whom_no_letter_reaches_gets_a_visit_and_no_letter(boutique: Boutique, why: str) -> None:
    owner = OwnerFactory(email="" if why == "no address" else "ada@owners.example")
    if why == "stopped":
        StoppedAddress.objects.create(email="ada@owners.example", stopped_at=NOW, because="550")
    visit = book(boutique, PieceFactory(owner=owner))
    assert visit.state == "booked"
    assert not Confirmation.objects.exists()


def test_the_same_form_sent_twice_is_confirmed_once(boutique: Boutique) -> None:
    piece, wish, key = PieceFactory(), actions.Wish(boutique, FRIDAY, time(10)), uuid4()
    letter = letter_about(piece)
    first, second = (actions.book(letter, [piece], wish, form_key=key, on=TODAY, now=NOW) for _tap in range(2))
    assert first == second
    assert Confirmation.objects.count() == 1


def test_no_change_can_be_told_twice(boutique: Boutique) -> None:
    book(boutique, PieceFactory())
    told = Confirmation.objects.get()
    told.letter = Letter.objects.create(
        owner=told.letter.owner, language="en", planned_on=TODAY, not_before=NOW, sort="confirmation"
    )
    told.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        told.save()


def test_a_place_that_was_not_given_is_not_confirmed(boutique: Boutique) -> None:
    book(boutique, PieceFactory(), at="10:00")
    with pytest.raises(actions.JustTaken):
        book(boutique, PieceFactory(), at="10:00")
    assert Confirmation.objects.count() == 1


def test_the_link_opens_the_page_on_which_the_visit_was_booked(boutique: Boutique, sink: MailSink) -> None:
    piece = PieceFactory()
    visit = book(boutique, piece)
    send()
    [link] = [line for line in sink.messages[0].text.splitlines() if "/o/" in line]
    page = Client().get(link.removeprefix("http://127.0.0.1:8000"))
    assert page.status_code == 200
    assert piece.serial in page.content.decode()
    assert set(OwnerLink.objects.values_list("letter", flat=True)) == {visit.letter_id}


def test_the_confirmation_s_page_tells_and_withdraws_the_link_that_it_carries(
    boutique: Boutique, sink: MailSink
) -> None:
    visit = book(boutique, PieceFactory())
    send()
    [link] = [
        line.removeprefix("http://127.0.0.1:8000") for line in sink.messages[0].text.splitlines() if "/o/" in line
    ]
    confirmation = first_word()
    desk = Client()
    desk.force_login(StaffFactory(role="desk"))
    page = desk.get(f"/letters/{confirmation.pk}/").content.decode()
    assert "It reached the wrong hands" in page
    assert "Its links open nothing any more." not in page
    assert Client().get(link).status_code == 200
    desk.post(f"/letters/{confirmation.pk}/links/")
    assert Client().get(link).status_code == 404
    assert "Its links open nothing any more." in desk.get(f"/letters/{confirmation.pk}/").content.decode()
    for one in (confirmation.pk, visit.letter_id):
        assert "links withdrawn" in desk.get(f"/letters/{one}/").content.decode()


def test_a_confirmation_in_doubt_stands_on_the_desks_list_like_any_letter(boutique: Boutique, sink: MailSink) -> None:
    book(boutique, PieceFactory())
    sink.fail("after", "drop")
    assert send().in_doubt == 1
    assert send().sent == 0
    letter = Letter.objects.get(sort="confirmation")
    client = Client()
    client.force_login(StaffFactory(role="desk"))
    page = client.get(f"/letters/{letter.pk}/").content.decode()
    assert "Send again" in page
    assert "Your visit on 12 June 2026" in page


def test_neither_the_pause_nor_the_one_letter_a_day_counts_a_confirmation(boutique: Boutique) -> None:
    """A piece due on 17 May 2026 is invited on the day after another piece's visit was confirmed."""
    owner = OwnerFactory()
    visit = book(boutique, PieceFactory(owner=owner))
    Letter.objects.filter(pk=visit.letter_id).update(planned_on=date(2026, 2, 2), sent_at="2026-02-02T09:00Z")
    due = PieceFactory(owner=owner, model__rated_bar=None)
    daily_round(as_of=TODAY, now=NOW)
    invited = Letter.objects.filter(sort="invitation", planned_on=TODAY)
    assert due.serial in {one.piece.serial for letter in invited for one in letter.reminders.all()}


def test_a_program_that_lists_letters_finds_those_with_reminders_alone(boutique: Boutique) -> None:
    visit = book(boutique, PieceFactory())
    assert Letter.objects.filter(sort="confirmation").exists()
    assert [record["letter"] for record in letter_records(None)] == [visit.letter_id]


def gone(letter: Letter, number: int) -> Gone:
    """The sent journal's line of a confirmation, read back."""
    going = Going(
        letter=number,
        owner=letter.owner.code,
        language="en",
        planned_on=letter.planned_on,
        message_id=f"<letter.{number}.0a@fernhollow.example>",
        attempt=1,
        reminders=(),
        links=(),
        sort="confirmation",
    )
    return gone_from(line_of(Gone(going, NOW, "250 2.0.0 queued")))


def test_after_a_restore_a_confirmation_that_was_out_does_not_go_again(boutique: Boutique, sink: MailSink) -> None:
    """One whose visit came after the backup is named as unknown; it does not become a letter that the pause counts."""
    book(boutique, PieceFactory())
    letter = Letter.objects.get(sort="confirmation")
    hold_waiting()
    result = replay([gone(letter, letter.pk), gone(letter, letter.pk + 40)])
    assert (result.marked, result.written) == (1, 0)
    assert result.unknown == [f"<letter.{letter.pk + 40}.0a@fernhollow.example>"]
    assert Letter.objects.get(sort="confirmation").state == "sent"
    go_on(by=StaffFactory(), now=NOW)
    assert send().sent == 0
