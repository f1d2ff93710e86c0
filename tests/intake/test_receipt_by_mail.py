"""The receipt of a drop-off goes to its owner by mail, once, with the very text that was signed."""

from collections.abc import Callable
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from service_center.intake.actions import Signed
from service_center.intake.mailing import mail_receipt_of
from service_center.intake.models import DropOff
from service_center.letters.actions import SendResult, go_on, hold_waiting, replay, send_waiting
from service_center.letters.models import Letter, MailedReceipt, OwnerLink, StoppedAddress
from service_center.letters.queries.listing import letter_records
from service_center.letters.rules.journal import Going, Gone
from tests.factories import OwnerFactory, PieceFactory, StaffFactory
from tests.letters.sink import MailSink, Received
from tests.owner_pages.test_data import text_of_pdf

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 3, 2, 10, 40, tzinfo=UTC)
TEXT = "Das Stück\nSkerry, FH21-000042\n\nZustand\nAlle Teile wie getragen, nichts zu vermerken.\n"
Take = Callable[..., DropOff]


@pytest.fixture
def taken(take: Take) -> DropOff:
    """What Ada Winter left at Harrowmere, signed in German."""
    owner = OwnerFactory(name="Ada Winter", email="ada@owners.example", language="de")
    return take(PieceFactory(owner=owner), signed=Signed(TEXT, "de", "Ada Winter"))


def send() -> SendResult:
    return send_waiting(now=timezone.now(), until_empty=True)


def press(client: Client, drop_off: DropOff, times: int = 1) -> str:
    address = reverse("intake:mail_receipt", args=[drop_off.pk])
    answers = [client.post(address, follow=True) for _press in range(times)]
    return answers[-1].content.decode()


def staff_of(drop_off: DropOff, **fields: Any) -> Client:
    client = Client()
    client.force_login(StaffFactory(**{"role": "boutique", "boutique": drop_off.boutique.code, **fields}))
    return client


def files_in(mail: Received) -> dict[str, bytes]:
    return {str(part.get_filename()): part.get_payload(decode=True) for part in mail.parsed.iter_attachments()}


def test_a_receipt_pressed_for_three_times_goes_once(taken: DropOff, sink: MailSink) -> None:
    client = staff_of(taken)
    page = press(client, taken, times=3)
    assert "ada@owners.example" in page
    assert "waiting" in page
    assert send().sent == 1
    press(client, taken)
    assert send().sent == 0
    assert len(sink.messages) == 1
    assert "The mail server took it." in press(client, taken)


def test_it_is_in_the_owners_language_with_the_paper_attached_and_readable(taken: DropOff, sink: MailSink) -> None:
    press(staff_of(taken), taken)
    send()
    [mail] = sink.messages
    assert mail.recipients == ("ada@owners.example",)
    assert mail.subject == f"Ihr Beleg {taken.number}: {taken.piece.model}"
    assert mail.parsed["Content-Language"] == "de"
    assert mail.parsed["List-Unsubscribe"] is None
    paper = files_in(mail)[f"{taken.number}.pdf"]
    text = text_of_pdf(paper)
    assert taken.number in text
    assert taken.piece.serial in text
    assert sha256(TEXT.encode()).hexdigest() in "".join(text.split())


def test_the_text_beside_it_is_the_signed_one_to_the_byte(taken: DropOff, sink: MailSink) -> None:
    """Its mark is the one that is printed on the receipt, whatever became of the owner's language or name since."""
    owner = taken.owner
    assert owner
    owner.language, owner.name = "ja", "Ada Summer"
    owner.save()
    press(staff_of(taken), taken)
    send()
    files = files_in(sink.messages[0])
    assert sorted(files) == [f"{taken.number}-signed.txt", f"{taken.number}.pdf"]
    signed = files[f"{taken.number}-signed.txt"]
    assert signed == TEXT.encode()
    assert sha256(signed).hexdigest() == taken.signature.text_sha256
    assert "Unterschrift" in text_of_pdf(files[f"{taken.number}.pdf"])  # in the language that was signed


def test_what_was_kept_is_what_goes_though_the_record_changes_meanwhile(taken: DropOff, sink: MailSink) -> None:
    mail_receipt_of(taken, by=StaffFactory(), now=NOW)
    kept = bytes(MailedReceipt.objects.get().paper)
    DropOff.objects.filter(pk=taken.pk).update(owner_says="Something else.")
    send()
    assert files_in(sink.messages[0])[f"{taken.number}.pdf"] == kept


def test_when_the_line_drops_after_the_dot_it_is_in_doubt_and_never_goes_again_by_itself(
    taken: DropOff, sink: MailSink
) -> None:
    press(staff_of(taken), taken)
    sink.fail("after", "drop")
    assert send().in_doubt == 1
    assert send().sent == 0
    assert "in doubt" in press(staff_of(taken), taken)
    assert send().sent == 0
    desk = staff_of(taken, role="desk", boutique="")
    letter = Letter.objects.get(sort="receipt")
    page = desk.get(f"/letters/{letter.pk}/").content.decode()
    assert "Send again" in page
    assert taken.number in page


@pytest.mark.parametrize("why", ["no address", "stopped", "nobody known"])
def test_whom_no_letter_reaches_gets_the_paper_alone(taken: DropOff, why: str) -> None:
    if why == "no address":
        taken.owner.email = ""  # type: ignore[union-attr]
        taken.owner.save()  # type: ignore[union-attr]
    elif why == "stopped":
        StoppedAddress.objects.create(email="ada@owners.example", stopped_at=NOW, because="550")
    else:
        DropOff.objects.filter(pk=taken.pk).update(owner=None)
    assert "No letter reaches" in press(staff_of(taken), taken)
    assert not Letter.objects.filter(sort="receipt").exists()


def test_whoever_wants_no_letters_gets_a_receipt_all_the_same(taken: DropOff, sink: MailSink) -> None:
    taken.owner.letters = False  # type: ignore[union-attr]
    taken.owner.save()  # type: ignore[union-attr]
    press(staff_of(taken), taken)
    assert send().sent == 1
    assert not OwnerLink.objects.exists()
    assert "/o/" not in sink.messages[0].text


def test_neither_the_pause_nor_a_program_that_lists_letters_counts_it(taken: DropOff) -> None:
    press(staff_of(taken), taken)
    assert Letter.objects.filter(sort="receipt").exists()
    assert list(letter_records(None)) == []


def test_another_boutiques_staff_cannot_send_it(taken: DropOff) -> None:
    stranger = staff_of(taken, boutique="SALTBY")
    assert stranger.post(reverse("intake:mail_receipt", args=[taken.pk])).status_code == 404
    assert not Letter.objects.filter(sort="receipt").exists()


def test_after_a_restore_a_receipt_that_was_out_does_not_go_again(taken: DropOff, sink: MailSink) -> None:
    letter = mail_receipt_of(taken, by=StaffFactory(), now=NOW)
    assert letter
    hold_waiting()
    going = Going(
        letter.pk, letter.owner.code, "de", letter.planned_on, "<letter.1.0a@x.example>", 1, (), (), "receipt"
    )
    assert replay([Gone(going, NOW, "250 queued")]).marked == 1
    go_on(by=StaffFactory(), now=NOW)
    assert send().sent == 0


def refused(drop_off: DropOff, sink: MailSink) -> Client:
    """A member of staff, after the mail server did not know the owner's mailbox."""
    client = staff_of(drop_off)
    press(client, drop_off)
    sink.fail("rcpt", "550 5.1.1 no such mailbox")
    assert send().sent == 0
    return client


def test_a_refused_receipt_is_asked_for_again_once_the_owner_gave_another_address(
    taken: DropOff, sink: MailSink
) -> None:
    client = refused(taken, sink)
    page = press(client, taken)
    assert "The mail server refused it." in page
    assert "Once more" not in page
    assert "No letter reaches this owner" not in page
    owner = taken.owner
    assert owner
    owner.email = "ada.winter@owners.example"
    owner.save()
    page = client.get(reverse("intake:taken_in", args=[taken.pk])).content.decode()
    assert "Once more, to ada.winter@owners.example" in page
    page = press(client, taken, times=3)
    assert "waiting" in page
    assert "Once more" not in page
    assert send().sent == 1
    assert [mail.recipients for mail in sink.messages] == [("ada.winter@owners.example",)]
    assert list(MailedReceipt.objects.order_by("pk").values_list("attempt", flat=True)) == [1, 2]
    assert send().sent == 0
    assert "The mail server took it." in press(client, taken)


def test_a_receipt_that_went_to_an_address_the_owner_has_no_more_may_go_to_the_new_one(
    taken: DropOff, sink: MailSink
) -> None:
    client = staff_of(taken)
    press(client, taken)
    send()
    owner = taken.owner
    assert owner
    owner.email = "ada.winter@owners.example"
    owner.save()
    assert (
        "Once more, to ada.winter@owners.example"
        in client.get(reverse("intake:taken_in", args=[taken.pk])).content.decode()
    )
    press(client, taken)
    send()
    assert [mail.recipients for mail in sink.messages] == [
        ("ada@owners.example",),
        ("ada.winter@owners.example",),
    ]


def test_what_was_mailed_stays_as_it_was_mailed(taken: DropOff) -> None:
    press(staff_of(taken), taken)
    with pytest.raises(DatabaseError, match="holds facts"), transaction.atomic():
        MailedReceipt.objects.update(attempt=7)


def test_ticked_at_signing_it_is_written_with_the_drop_off(counter_of: Callable[[Client], Any]) -> None:
    piece = PieceFactory(owner=OwnerFactory(email="ada@owners.example"))
    client = Client()
    client.force_login(StaffFactory(role="boutique", boutique=piece.boutique.code))
    counter = counter_of(client)
    counter.begin(piece)
    counter.say_all()
    assert "Receipt by e-mail to ada@owners.example" in counter.see("sign")
    counter.sign(mail="on")
    taken = DropOff.objects.get()
    assert MailedReceipt.objects.get().number == taken.number
    assert MailedReceipt.objects.get().signed == taken.signature.text


def test_not_ticked_nothing_is_sent(counter_of: Callable[[Client], Any]) -> None:
    piece = PieceFactory()
    client = Client()
    client.force_login(StaffFactory(role="boutique", boutique=piece.boutique.code))
    counter = counter_of(client)
    counter.begin(piece)
    counter.say_all()
    counter.sign()
    assert DropOff.objects.get()
    assert not Letter.objects.filter(sort="receipt").exists()
