"""Reports that come back by mail, and what follows for the letter, its owner and the house."""

from base64 import encodebytes
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import permutations

import pytest
from django.db import DatabaseError, transaction
from django.db.models.functions import Now

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.letters.actions import write_again
from service_center.letters.actions.reporting import conclude_what_is_left
from service_center.letters.actions.returning import take_mail
from service_center.letters.models import DeliveryReport, Letter, ReturnedMail, StoppedAddress
from service_center.letters.returned.words import why_stopped
from service_center.letters.rules.words import FoundInMail, LetterState
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import NOW, only_letter, recount, round_on, send
from tests.letters.returned.reports import (
    BOUNDARY,
    come_back,
    comes_back_to,
    delivery_report,
    full,
    old_report,
    out_of_office,
    receipt_of_reading,
)
from tests.letters.sink import MailSink

Make = Callable[..., Piece]


def test_the_report_comes_back_to_the_address_that_the_letter_left_from(sent: Letter, sink: MailSink) -> None:
    assert sink.messages[0].sender == comes_back_to(sent)
    assert come_back(delivery_report(sent, to=sink.messages[0].sender, returned="Subject: x")) is FoundInMail.REPORT


def test_a_mailbox_that_does_not_exist_stops_the_address_and_says_why(sent: Letter) -> None:
    assert come_back(delivery_report(sent)) is FoundInMail.REPORT
    stopped = StoppedAddress.objects.get()
    assert (stopped.email, stopped.status, stopped.letter) == (sent.owner.email, "5.1.1", sent)
    assert stopped.because == "550 5.1.1 <nobody@owners.example>: user unknown"
    assert why_stopped(stopped) == "There is no such mailbox."
    told = DeliveryReport.objects.get()
    assert (told.letter, told.source, told.happened, told.fault) == (sent, "mail", "failed", "address")
    assert told.happened_at == datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
    # The mail server took it, and that stays true.
    assert only_letter().state == LetterState.SENT


def test_no_letter_goes_to_a_stopped_address(sent: Letter, sink: MailSink) -> None:
    come_back(delivery_report(sent))
    recount("2026-05-04")
    assert [one.reason.value for one in round_on("2026-05-04").not_written] == ["address_stopped"]


def test_the_same_report_counts_once_however_it_came(sent: Letter) -> None:
    report = delivery_report(sent, status="5.2.2", diagnostic="smtp; 552 5.2.2 mailbox full")
    assert come_back(report) is FoundInMail.REPORT
    assert come_back(report) is None
    assert come_back(b"Received: by another way\n" + report) is None
    assert DeliveryReport.objects.count() == 1


def test_a_forged_report_stops_nobody(sent: Letter) -> None:
    forged = delivery_report(
        sent,
        to=f"bounce+{sent.pk}.{'0' * 24}@fernhollow.example",
        returned=f"Message-ID: <letter.{sent.pk}.{'0' * 24}@x>",
    )
    assert come_back(forged) is FoundInMail.NO_LETTER
    assert not StoppedAddress.objects.exists()
    assert not DeliveryReport.objects.exists()


def test_a_report_stops_only_the_address_its_letter_went_to(sent: Letter) -> None:
    OwnerFactory(email="victim@owners.example")
    come_back(delivery_report(sent).replace(b"nobody@owners.example", b"victim@owners.example"))
    assert StoppedAddress.objects.get().email == sent.owner.email


def test_a_report_that_lost_the_return_path_names_the_letter_by_what_it_quotes(sent: Letter) -> None:
    assert come_back(delivery_report(sent, to="service@fernhollow.example")) is FoundInMail.REPORT
    assert StoppedAddress.objects.get().letter == sent


def test_an_old_server_that_knows_no_rfc_3464_is_understood(sent: Letter) -> None:
    assert come_back(old_report(sent)) is FoundInMail.REPORT
    told = DeliveryReport.objects.get()
    assert (told.happened, told.status, told.fault) == ("failed", "5.1.1", "address")
    assert "no mailbox here by that name" in told.words


def in_base64(report: bytes) -> bytes:
    """The fields of RFC 3464 as some gateways encode them."""
    kind = b"Content-Type: message/delivery-status\n\n"
    before, _kind, rest = report.partition(kind)
    fields, boundary, after = rest.partition(b"--" + BOUNDARY.encode())
    return before + kind.strip() + b"\nContent-Transfer-Encoding: base64\n\n" + encodebytes(fields) + boundary + after


def in_quoted_printable(report: bytes) -> bytes:
    kind = b"Content-Type: message/delivery-status\n"
    quoted = report.replace(kind, kind + b"Content-Transfer-Encoding: quoted-printable\n")
    return quoted.replace(b"Diagnostic-Code: smtp; 550 5.1.1 <", b"Diagnostic-Code: smtp=3B 550 5.1=\n.1 <")


def wrapped_by_a_list(report: bytes) -> bytes:
    """As the one part of a message that only adds its footer."""
    head, _mime, body = report.partition(b"MIME-Version: 1.0\n")
    wrapper = b'MIME-Version: 1.0\nContent-Type: multipart/mixed; boundary="=_w"\n\n--=_w\n'
    return head + wrapper + body + b"\n--=_w\nContent-Type: text/plain\n\nA footer.\n\n--=_w--\n"


def replacing(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    return lambda report: report.replace(old, new)


@pytest.mark.parametrize(
    "awkward",
    [
        in_base64,
        in_quoted_printable,
        wrapped_by_a_list,
        # RFC 6533, 3: reports about addresses in other scripts
        replacing(b"message/delivery-status", b"message/global-delivery-status"),
        replacing(b"Content-Type: message/", b"CONTENT-TYPE:\n Message/"),
        # RFC 822 lets comments stand in every field of words
        replacing(b"Action: failed", b"Action: Failed (bad destination mailbox)"),
        replacing(b"Action: failed\n", b""),
        replacing(b"Status: 5.1.1", b"Status: 5.1.1 (Bad destination mailbox address)"),
        replacing(b"Status: 5.1.1\n", b""),
        replacing(b"Status: 5.1.1", b"Status: 5.0.0"),
        replacing(b"\n", b"\r\n"),
        replacing(b"\nFinal-Recipient", b"\n \nFinal-Recipient"),
        replacing(b"smtp; 550 5.1.1 <", b"smtp; 550-5.1.1 Sorry,\n 550 5.1.1 <"),
    ],
)
def test_awkward_reports_are_understood(sent: Letter, awkward: Callable[[bytes], bytes]) -> None:
    """A report that is taken for one, and of which nothing is told, would leave a dead address in use."""
    report = delivery_report(sent)
    assert awkward(report) != report
    assert come_back(awkward(report)) is FoundInMail.REPORT
    stopped = StoppedAddress.objects.get()
    assert (stopped.email, stopped.status) == (sent.owner.email, "5.1.1")
    assert stopped.because.endswith("<nobody@owners.example>: user unknown")


def test_a_report_that_tells_nothing_is_called_unreadable(sent: Letter) -> None:
    raw = delivery_report(sent).replace(b"Action: failed", b"Deed: failed").replace(b"Status: 5.1.1", b"State: bad")
    assert come_back(raw) is FoundInMail.UNREADABLE
    assert not DeliveryReport.objects.exists()


@pytest.mark.parametrize(
    "headers",
    [
        "Auto-Submitted: auto-replied (vacation)",
        "Auto-Submitted: auto-generated",
        "Precedence: bulk",
        "X-Autoreply: yes",
    ],
)
def test_an_answer_by_a_program_is_no_bounce(sent: Letter, headers: str) -> None:
    assert come_back(out_of_office(sent, headers)) is FoundInMail.AUTO_REPLY
    assert not DeliveryReport.objects.exists()


def test_a_receipt_of_reading_is_no_report_of_delivery(sent: Letter) -> None:
    assert come_back(receipt_of_reading(sent)) in (FoundInMail.NO_REPORT, FoundInMail.AUTO_REPLY)
    assert not DeliveryReport.objects.exists()


def test_a_letter_from_the_owner_is_no_report(sent: Letter) -> None:
    raw = f"From: ada@owners.example\nTo: {comes_back_to(sent)}\nSubject: Re: Your watch\n\nThank you.\n"
    assert come_back(raw.encode()) is FoundInMail.NO_REPORT


@pytest.mark.parametrize(
    "raw",
    [b"", b"\0\0\0", b"\xff" * 4_000, b"Content-Type: multipart/report; report-type=delivery-status\n\n",
     b"Content-Type: multipart/report; boundary=x\n\n--x\nContent-Type: message/delivery-status\n\nAction: failed\n",
     b"Date: never\nContent-Type: multipart/mixed; boundary=x\n" + b"--x\nContent-Type: multipart/mixed\n" * 500],
)  # fmt: skip
def test_whatever_is_written_to_a_return_path_breaks_nothing(sent: Letter, raw: bytes) -> None:
    assert come_back(raw) in set(FoundInMail) - {FoundInMail.REPORT}
    assert ReturnedMail.objects.count() == 1


def test_a_report_with_bytes_that_no_database_takes_is_written_down(sent: Letter) -> None:
    raw = delivery_report(
        sent, diagnostic="smtp; 550 5.1.1 \0 b\x07d \udce4".encode("utf-8", "surrogateescape").decode("latin-1")
    )
    assert come_back(raw) is FoundInMail.REPORT
    assert "\0" not in DeliveryReport.objects.get().words


@pytest.mark.parametrize("day", ["Sun, 01 Jan 1995 00:00:00 +0000", "Fri, 31 Dec 9999 23:59:59 -0000", "soon", ""])
def test_a_day_that_cannot_be_believed_is_the_day_it_came(sent: Letter, day: str) -> None:
    come_back(delivery_report(sent, day=day))
    assert DeliveryReport.objects.get().happened_at == NOW


def test_a_delay_is_written_down_and_means_nothing_yet(sent: Letter) -> None:
    come_back(delivery_report(sent, action="delayed", status="4.4.1", diagnostic="smtp; 451 4.4.1 no answer"))
    assert DeliveryReport.objects.get().fault == "none"
    assert not StoppedAddress.objects.exists()


@pytest.mark.parametrize("status", ["5.7.1", "5.7.26", "5.3.4"])
def test_what_is_the_houses_to_mend_stops_no_owner(sent: Letter, status: str) -> None:
    for number in range(4):
        come_back(
            delivery_report(
                sent, status=status, diagnostic=f"smtp; 550 {status} not from you", number=f"{number}",
                day=f"Wed, {number * 3 + 10} Nov 2026 09:30:00 +0000",
            )
        )  # fmt: skip
    assert not StoppedAddress.objects.exists()


def test_three_full_mailboxes_within_a_month_stop_the_address(sent: Letter) -> None:
    for day in (1, 9):
        come_back(full(sent, day))
        assert not StoppedAddress.objects.exists()
    come_back(full(sent, 20))
    stopped = StoppedAddress.objects.get()
    assert (stopped.fault, stopped.status) == ("for_now", "5.2.2")
    assert why_stopped(stopped) == ("3 deliveries failed within 30 days; the last: The mailbox is full.")


def test_the_order_of_reports_changes_nothing(sent: Letter) -> None:
    reports = [full(sent, 1), full(sent, 9), full(sent, 20), delivery_report(sent)]
    ends = set()
    for order in permutations(reports):
        with transaction.atomic():
            for raw in order:
                come_back(raw)
            ends.add(StoppedAddress.objects.values_list("email", "status", "fault", "because", "letter").get())
            transaction.set_rollback(True)
    assert len(ends) == 1
    assert next(iter(ends))[1] == "5.1.1"


def test_failures_written_side_by_side_are_counted_by_the_sweep(sent: Letter) -> None:
    come_back(full(sent, 1))
    one = DeliveryReport.objects.get()
    # As two transactions that do not see each other leave them.
    DeliveryReport.objects.bulk_create(
        DeliveryReport(
            letter=sent, email=one.email, source="provider", happened="failed", fault="for_now", status="4.2.2",
            happened_at=Now() - timedelta(days=days), recorded_at=Now(),
        )
        for days in (1, 3, 5)
    )  # fmt: skip
    conclude_what_is_left()
    assert StoppedAddress.objects.get().email == one.email


def test_a_late_report_about_an_earlier_copy_stops_not_the_new_address(sent: Letter, sink: MailSink) -> None:
    Letter.objects.update(state=LetterState.WAITING)
    sent.owner.email = "mended@owners.example"
    sent.owner.save()
    send()
    assert only_letter().email == "mended@owners.example"
    come_back(delivery_report(sent, day="Wed, 18 Nov 2020 09:30:00 +0000"))
    assert not StoppedAddress.objects.exists()


def test_a_domain_in_another_script_is_stopped_as_the_book_spells_it(due_piece: Make, sink: MailSink) -> None:
    due_piece(owner=OwnerFactory(email="ada@bücher.example"))
    round_on("2026-03-18")
    send()
    come_back(delivery_report(only_letter()))
    assert StoppedAddress.objects.get().email == "ada@bücher.example"
    assert round_on("2026-03-19").letters == 0


def test_letters_go_there_again_once_the_desk_says_so(sent: Letter) -> None:
    staff = StaffFactory()
    come_back(delivery_report(sent))
    write_again(StoppedAddress.objects.get(), by=staff, reason="Confirmed by telephone.", at=NOW)
    assert not StoppedAddress.objects.exists()
    trail = Trail.objects.get(deed="address_lifted")
    assert (trail.by, trail.subject, trail.reason) == (staff, f"owner:{sent.owner.code}", "Confirmed by telephone.")
    assert sent.owner.email not in str(trail.before)
    # What was said before counts no longer, a straggler from then neither; what is said afterwards does.
    come_back(delivery_report(sent, number="straggler", day="Wed, 25 Nov 2026 09:00:00 +0000"))
    assert not StoppedAddress.objects.exists()
    take_mail(
        delivery_report(sent, number="new", day="Thu, 26 Nov 2026 09:00:00 +0000"), came_at=NOW + timedelta(days=2)
    )
    assert StoppedAddress.objects.exists()


def test_reports_are_facts(sent: Letter) -> None:
    come_back(delivery_report(sent))
    for rows in (DeliveryReport.objects.all(), ReturnedMail.objects.all()):
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.delete()
    with pytest.raises(DatabaseError), transaction.atomic():
        DeliveryReport.objects.update(fault="none")
