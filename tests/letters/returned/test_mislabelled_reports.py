"""Reports of RFC 3464 whose fields stand in a part of another type, or in a message that is called no report."""

from collections.abc import Callable

import pytest

from service_center.letters.models import DeliveryReport, Letter, StoppedAddress
from service_center.letters.rules.words import FoundInMail
from tests.letters.returned.reports import come_back, comes_back_to, delivery_report

KIND = b"Content-Type: message/delivery-status"
REPORT = b"multipart/report; report-type=delivery-status"
BLOCK = """\
Final-Recipient: rfc822; nobody@owners.example
Action: failed
Status: 5.1.1
Diagnostic-Code: smtp; 550 5.1.1 <nobody@owners.example>: user unknown
"""


def of_type(kind: str) -> Callable[[bytes], bytes]:
    return lambda report: report.replace(KIND, f"Content-Type: {kind}".encode())


def mixed(report: bytes) -> bytes:
    return report.replace(REPORT, b"multipart/mixed")


def mixed_by_somebody_automatic(report: bytes) -> bytes:
    return mixed(report).replace(b"mailer-daemon@", b"no-reply@")


def mixed_with_plain_fields(report: bytes) -> bytes:
    return of_type("text/plain; charset=us-ascii")(mixed_by_somebody_automatic(report))


def mixed_from_nobody(report: bytes) -> bytes:
    return mixed_with_plain_fields(report).replace(b"Auto-Submitted: auto-replied\n", b"")


def as_a_message_in_one_block(report: bytes) -> bytes:
    """The fields about the whole and those about the recipient are not set apart, and a parser takes them for headers."""
    return of_type("message/rfc822")(report).replace(b"+0000\n\nFinal-Recipient", b"+0000\nFinal-Recipient")


def with_crlf(report: bytes) -> bytes:
    return mixed_with_plain_fields(report).replace(b"\n", b"\r\n")


@pytest.mark.parametrize(
    "mislabel",
    [
        of_type("text/plain"),
        of_type("text/plain; charset=utf-8"),
        of_type("text/rfc822-headers"),
        of_type("application/octet-stream"),
        of_type("message/rfc822"),
        of_type("message/x-delivery-status"),
        as_a_message_in_one_block,
        mixed,
        mixed_by_somebody_automatic,
        mixed_with_plain_fields,
        mixed_from_nobody,
        with_crlf,
    ],
)
def test_mislabelled_reports_are_read(sent: Letter, mislabel: Callable[[bytes], bytes]) -> None:
    report = delivery_report(sent)
    assert mislabel(report) != report
    assert come_back(mislabel(report)) is FoundInMail.REPORT
    stopped, told = StoppedAddress.objects.get(), DeliveryReport.objects.get()
    assert (stopped.email, stopped.status) == (sent.owner.email, "5.1.1")
    assert (told.happened, told.words) == ("failed", "550 5.1.1 <nobody@owners.example>: user unknown")


def test_a_mislabelled_report_without_our_own_signature_stops_nobody(sent: Letter) -> None:
    forged = delivery_report(
        sent,
        to=f"bounce+{sent.pk}.{'0' * 24}@fernhollow.example",
        returned=f"Message-ID: <letter.{sent.pk}.{'0' * 24}@x>",
    )
    assert come_back(mixed_with_plain_fields(forged)) is FoundInMail.NO_LETTER
    assert not StoppedAddress.objects.exists()


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"Status: 5.1.1\n", b""),
        (b"Status: 5.1.1", b"Status: 5.1.1 or 4.2.2"),
        (b"Status: 5.1.1", b"Status: bad"),
        (b"Status: 5.1.1", b"Status: 2.1.5"),
        (b"Action: failed\n", b""),
        (b"Action: failed", b"Action: forgotten"),
        (b"Action: failed", b"Action: delivered"),
        (b"Action: failed\n", b"Action: failed\nAction: delayed\n"),
        (b"Final-Recipient: rfc822; nobody@owners.example\n", b""),
        (b"rfc822; nobody@owners.example", b"somebody"),
        (b"Final-Recipient", b"I read this:\nFinal-Recipient: x; a@b.example\nFinal-Recipient"),
        (b"Action: failed\n", b"and it said\nAction: failed\n"),
        (b"it was not taken\n", b"it was not taken\nThat is all it said.\n"),
    ],
)
def test_fields_that_leave_something_to_guess_are_not_read_from_a_part_of_another_type(
    sent: Letter, old: bytes, new: bytes
) -> None:
    report = delivery_report(sent, diagnostic="smtp; it was not taken")
    assert old in report
    vague = of_type("text/plain")(report.replace(old, new))
    assert come_back(vague) is FoundInMail.UNREADABLE
    assert not DeliveryReport.objects.exists()


def plain(letter: Letter, body: str, *, sender: str, headers: str = "") -> bytes:
    return (
        f"{headers}From: {sender}\nTo: <{comes_back_to(letter)}>\nDate: Wed, 25 Nov 2026 09:30:00 +0000\n"
        f"Message-ID: <plain@owners.example>\nSubject: Undelivered\n\n{body}"
    ).encode()


def test_a_message_without_parts_is_read_by_its_block(sent: Letter) -> None:
    raw = plain(sent, f"Sorry.\n\n{BLOCK}\nBye.\n", sender="postmaster@mx.owners.example")
    assert come_back(raw) is FoundInMail.REPORT
    assert DeliveryReport.objects.get().status == "5.1.1"


def test_what_a_person_sends_on_stops_nobody(sent: Letter) -> None:
    """An owner shows us what some server wrote to them, of a letter of their own."""
    raw = plain(sent, f"Is this yours?\n\n{BLOCK}\n", sender="ada@owners.example")
    assert come_back(raw) is FoundInMail.NO_REPORT
    assert not DeliveryReport.objects.exists()


@pytest.mark.parametrize(
    "body",
    [
        "> " + BLOCK.replace("\n", "\n> "),
        "I am away. My server says Final-Recipient: rfc822; a@b.example, Action: failed, Status: 5.1.1.\n",
        "I am away.\n" + BLOCK,
    ],
)
def test_prose_that_speaks_of_such_fields_stops_nobody(sent: Letter, body: str) -> None:
    raw = plain(sent, body, sender="ada@owners.example", headers="Return-Path: <>\nAuto-Submitted: auto-replied\n")
    assert come_back(raw) is FoundInMail.AUTO_REPLY
    assert not DeliveryReport.objects.exists()
