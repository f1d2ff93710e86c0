"""Complaints that mailbox providers send by mail (RFC 5965): the same as the mail provider's call tells."""

from collections.abc import Callable

import pytest

from service_center.letters.models import Answer, DeliveryReport, Letter, ReturnedMail, StoppedAddress
from service_center.letters.rules.words import FoundInMail
from tests.letters.conftest import only_letter, recount, round_on
from tests.letters.returned.reports import come_back, comes_back_to, complaint
from tests.letters.sink import MailSink

# RFC 5965, Appendix B.2: every field that a report may have beside those it must.
ALL_FIELDS = """
        Original-Mail-From: <{path}>
        Original-Rcpt-To: <user@owners.example>
        Arrival-Date: Wed, 25 Nov 2026 14:00:00 +0000
        Reporting-MTA: dns; mail.owners.example
        Source-IP: 192.0.2.1
        Authentication-Results: mail.owners.example;
                    spf=fail smtp.mail=somespammer@owners.example
        Reported-Domain: fernhollow.example
        Reported-Uri: http://fernhollow.example/earn_money.html
        Reported-Uri: mailto:user@owners.example
        Removal-Recipient: user@owners.example"""
# As the example of the RFC has it: no name of ours.
REDACTED = "Message-ID: 8787KJKJ3K4J3K4J3K4J3.mail@fernhollow.example"


def test_the_complaint_of_the_standard_stops_letters_and_no_address(sent: Letter) -> None:
    """RFC 5965, Appendix B.1."""
    assert come_back(complaint(sent)) is FoundInMail.REPORT
    told = DeliveryReport.objects.get()
    assert (told.letter, told.source, told.happened, told.fault) == (sent, "mail", "complained", "wish")
    assert told.mail == ReturnedMail.objects.get()
    answer = Answer.objects.get()
    assert (answer.choice, answer.letter, answer.said_on.isoformat()) == ("no_more_letters", sent, "2026-11-25")
    sent.owner.refresh_from_db()
    assert sent.owner.letters is False
    assert not StoppedAddress.objects.exists()
    assert only_letter().state == "sent"
    recount("2026-05-04")
    assert [one.reason.value for one in round_on("2026-05-04").not_written] == ["no_more_letters"]


def test_the_full_report_of_the_standard_names_the_letter_by_its_return_path(sent: Letter) -> None:
    """RFC 5965, Appendix B.2: the letter's own Message-ID may be struck out."""
    fields = ALL_FIELDS.replace("\n        ", "\n" + " " * 8).format(path=comes_back_to(sent))
    assert come_back(complaint(sent, enclosed=REDACTED, fields=fields)) is FoundInMail.REPORT
    assert DeliveryReport.objects.get().happened == "complained"


@pytest.mark.parametrize("as_headers", [False, True])
@pytest.mark.parametrize("by", ["number", "path"])
def test_the_letter_is_named_by_the_headers_of_the_enclosed_message(sent: Letter, by: str, *, as_headers: bool) -> None:
    enclosed = {"number": f"Message-ID: {sent.message_id}", "path": f"Return-Path: <{comes_back_to(sent)}>"}[by]
    assert come_back(complaint(sent, enclosed=enclosed, as_headers=as_headers)) is FoundInMail.REPORT
    assert Answer.objects.get().letter == sent


def test_whoever_opts_out_there_has_unsubscribed(sent: Letter) -> None:
    assert come_back(complaint(sent, kind="opt-out")) is FoundInMail.REPORT
    assert DeliveryReport.objects.get().happened == "unsubscribed"
    assert Answer.objects.get().choice == "no_more_letters"


def test_the_same_complaint_counts_once_and_two_are_one_answer(sent: Letter) -> None:
    assert come_back(complaint(sent)) is FoundInMail.REPORT
    assert come_back(complaint(sent)) is None
    assert come_back(complaint(sent, number="two")) is FoundInMail.REPORT
    assert Answer.objects.count() == 1


def in_capitals(raw: bytes) -> bytes:
    return raw.replace(b"Feedback-Type: abuse", b"feedback-type:\n  ABUSE (by a button)")


def in_crlf(raw: bytes) -> bytes:
    return raw.replace(b"\n", b"\r\n")


def in_base64(raw: bytes) -> bytes:
    kind = b"Content-Type: message/feedback-report\n"
    return raw.replace(kind, kind + b"Content-Transfer-Encoding: base64\n").replace(
        b"Feedback-Type: abuse\nUser-Agent: SomeGenerator/1.0\nVersion: 1\n",
        b"RmVlZGJhY2stVHlwZTogYWJ1c2UKVXNlci1BZ2VudDogU29tZUdlbmVyYXRvci8xLjAKVmVyc2lvbjogMQo=\n",
    )


def mixed(raw: bytes) -> bytes:
    return raw.replace(b"multipart/report; report-type=feedback-report", b"multipart/mixed")


@pytest.mark.parametrize("awkward", [in_capitals, in_crlf, in_base64, mixed])
def test_awkward_complaints_are_understood(sent: Letter, awkward: Callable[[bytes], bytes]) -> None:
    raw = complaint(sent)
    assert awkward(raw) != raw
    assert come_back(awkward(raw)) is FoundInMail.REPORT
    assert DeliveryReport.objects.get().happened == "complained"


@pytest.mark.parametrize("kind", ["not-spam", "fraud", "virus", "other", "auth-failure", "abuse-of-something"])
def test_other_feedback_is_kept_and_stops_nothing(sent: Letter, kind: str) -> None:
    raw = complaint(sent, kind=kind)
    assert come_back(raw) is FoundInMail.NO_REPORT
    assert bytes(ReturnedMail.objects.get().raw).startswith(raw[:1_000])
    assert not DeliveryReport.objects.exists()
    assert not Answer.objects.exists()


@pytest.mark.parametrize(
    "enclosed",
    [
        REDACTED,
        "Message-ID: <letter.{id}.000000000000000000000000@fernhollow.example>",
        "Return-Path: <bounce+{id}.000000000000000000000000@fernhollow.example>",
        # what somebody else wrote in answer to it, or sent on
        "Message-ID: <other@owners.example>\n        In-Reply-To: {number}\n        References: {number}",
        "Message-ID: <other@owners.example>\n        Subject: Fwd: {number}",
    ],
)
def test_a_complaint_that_names_no_letter_for_certain_stops_nobody(sent: Letter, enclosed: str) -> None:
    raw = complaint(sent, enclosed=enclosed.format(id=sent.pk, number=sent.message_id))
    assert come_back(raw) is FoundInMail.NO_LETTER
    assert not DeliveryReport.objects.exists()
    sent.owner.refresh_from_db()
    assert sent.owner.letters is not False


@pytest.mark.parametrize("said", [b"", b"Feedback-Type:\n", b"Feedback-Type: not-spam\nFeedback-Type: abuse\n"])
def test_a_complaint_that_does_not_say_what_it_is_is_called_unreadable(sent: Letter, said: bytes) -> None:
    """RFC 5965, 3.1: the type stands there exactly once."""
    assert come_back(complaint(sent).replace(b"Feedback-Type: abuse\n", said)) is FoundInMail.UNREADABLE
    assert not DeliveryReport.objects.exists()


def test_a_letter_that_was_complained_of_did_arrive(sent: Letter, sink: MailSink) -> None:
    Letter.objects.update(state="in_doubt", sent_at=None)
    come_back(complaint(sent))
    assert only_letter().state == "sent"
