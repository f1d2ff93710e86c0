"""Messages as mail servers and mail programs send them back, written after RFC 3464, RFC 3834 and older habits."""

from textwrap import dedent

from django.conf import settings

from service_center.letters.actions.returning import take_mail
from service_center.letters.models import Letter
from service_center.letters.rules.return_path import return_path
from service_center.letters.rules.words import FoundInMail
from tests.letters.conftest import NOW

BOUNDARY = "=_a1b2c3"


def comes_back_to(letter: Letter) -> str:
    """The letter's own return path."""
    return return_path(letter.pk, secret=settings.SECRET_KEY, domain=settings.BOUNCE_DOMAIN)


def delivery_report(
    letter: Letter,
    *,
    action: str = "failed",
    status: str = "5.1.1",
    diagnostic: str = "smtp; 550 5.1.1 <nobody@owners.example>: user unknown",
    day: str = "Wed, 25 Nov 2026 09:30:00 +0000",
    number: str = "one",
    to: str = "",
    returned: str = "",
) -> bytes:
    """A report after RFC 3464, 2, with the letter's headers behind it (RFC 6522, 3)."""
    return dedent(f"""\
        Return-Path: <>
        Received: from mx.owners.example (mx.owners.example [192.0.2.7])
        From: Mail Delivery System <mailer-daemon@mx.owners.example>
        To: <{to or comes_back_to(letter)}>
        Date: {day}
        Message-ID: <{number}.report@mx.owners.example>
        Subject: Undelivered mail returned to sender
        Auto-Submitted: auto-replied
        MIME-Version: 1.0
        Content-Type: multipart/report; report-type=delivery-status; boundary="{BOUNDARY}"

        --{BOUNDARY}
        Content-Type: text/plain; charset=us-ascii

        Your message could not be delivered to everybody.

        --{BOUNDARY}
        Content-Type: message/delivery-status

        Reporting-MTA: dns; mx.owners.example
        Arrival-Date: {day}

        Final-Recipient: rfc822; nobody@owners.example
        Action: {action}
        Status: {status}
        Diagnostic-Code: {diagnostic}

        --{BOUNDARY}
        Content-Type: text/rfc822-headers

        {returned or f"Message-ID: {letter.message_id}"}
        Subject: Your watch

        --{BOUNDARY}--
        """).encode()


def old_report(letter: Letter) -> bytes:
    """The plain words of a server that knows no RFC 3464: a greeting, then one paragraph a recipient."""
    return dedent(f"""\
        Return-Path: <>
        From: MAILER-DAEMON@old.owners.example
        To: {comes_back_to(letter)}
        Date: Wed, 25 Nov 2026 09:30:00 +0000
        Message-ID: <20261125.qmail@old.owners.example>
        Subject: failure notice

        Hi. This is the qmail-send program at old.owners.example.
        I'm afraid I wasn't able to deliver your message to the following addresses.
        This is a permanent error; I've given up. Sorry it didn't work out.

        <nobody@owners.example>:
        Remote host said: 550 5.1.1 sorry, no mailbox here by that name

        --- Below this line is a copy of the message.

        Message-ID: {letter.message_id}
        Subject: Your watch
        """).encode()


def out_of_office(letter: Letter, headers: str = "Auto-Submitted: auto-replied (vacation)") -> bytes:
    """An answer by a program (RFC 3834), which may well quote the letter."""
    return dedent(f"""\
        Return-Path: <>
        From: Ada Winter <ada@owners.example>
        To: {comes_back_to(letter)}
        Date: Wed, 25 Nov 2026 09:31:00 +0000
        Message-ID: <away@owners.example>
        In-Reply-To: {letter.message_id}
        Subject: Away until Monday
        {headers}

        I am away. Your message was not delivered to anybody else; the following address failed:
        <ada@owners.example>
        """).encode()


def receipt_of_reading(letter: Letter) -> bytes:
    """multipart/report of another kind (RFC 8098): it was displayed."""
    return (
        delivery_report(letter, number="read")
        .replace(b"report-type=delivery-status", b"report-type=disposition-notification")
        .replace(b"message/delivery-status", b"message/disposition-notification")
    )


def complaint(
    letter: Letter,
    *,
    kind: str = "abuse",
    enclosed: str = "",
    fields: str = "",
    as_headers: bool = False,
    number: str = "one",
) -> bytes:
    """The report of RFC 5965, Appendix B.1, about one of our letters; `fields`: those of B.2 beside."""
    return dedent(f"""\
        From: <abusedesk@owners.example>
        Date: Wed, 25 Nov 2026 17:40:36 +0000
        Subject: FW: Your watch
        To: <abuse@fernhollow.example>
        Message-ID: <{number}.complaint@owners.example>
        MIME-Version: 1.0
        Content-Type: multipart/report; report-type=feedback-report;
             boundary="part1_13d.2e68ed54_boundary"

        --part1_13d.2e68ed54_boundary
        Content-Type: text/plain; charset="US-ASCII"
        Content-Transfer-Encoding: 7bit

        This is an email abuse report for an email message received from IP
        192.0.2.1 on Wed, 25 Nov 2026 14:00:00 +0000.

        --part1_13d.2e68ed54_boundary
        Content-Type: message/feedback-report

        Feedback-Type: {kind}
        User-Agent: SomeGenerator/1.0
        Version: 1{fields}

        --part1_13d.2e68ed54_boundary
        Content-Type: {"text/rfc822-headers" if as_headers else "message/rfc822"}
        Content-Disposition: inline

        Received: from mailserver.fernhollow.example
             (mailserver.fernhollow.example [192.0.2.1])
             by owners.example with ESMTP id M63d4137594e46;
             Wed, 25 Nov 2026 14:00:00 +0000
        From: <service@fernhollow.example>
        To: <Undisclosed Recipients>
        Subject: Your watch
        MIME-Version: 1.0
        Content-type: text/plain
        {enclosed or f"Message-ID: {letter.message_id}"}
        Date: Wed, 25 Nov 2026 12:31:03 +0000

        {"" if as_headers else "Dear owner,"}
        --part1_13d.2e68ed54_boundary--
        """).encode()


def full(letter: Letter, day: int) -> bytes:
    """The mailbox is full, on a day of November 2026."""
    return delivery_report(
        letter, status="5.2.2", diagnostic="smtp; 552 5.2.2 over quota", number=f"full-{day}",
        day=f"Wed, {day:02} Nov 2026 09:30:00 +0000",
    )  # fmt: skip


def come_back(raw: bytes) -> FoundInMail | None:
    """Take the message in, as it lies in the mailbox."""
    return take_mail(raw, came_at=NOW)
