"""An owner's mail program asks by mail for no more letters (RFC 2369, 3.2): the other way beside the one click."""

import re
from collections.abc import Callable
from typing import Any
from urllib.parse import unquote

import pytest

from service_center.book.models import Piece
from service_center.letters.models import Answer, Letter
from service_center.letters.rules.words import FoundInMail
from tests.letters.conftest import recount, round_on, send
from tests.letters.returned.reports import come_back
from tests.letters.sink import MailSink

Make = Callable[..., Piece]


@pytest.fixture
def read_here(settings: Any) -> None:
    """The house reads what comes back."""
    settings.BOUNCE_DOMAIN, settings.BOUNCE_FOLDER = "back.fernhollow.example", "/srv/mail/bounces"


def asked_by(sink: MailSink) -> tuple[str, str]:
    """Where a mail program writes to, and what: it takes both from the letter."""
    found = re.search(r"<mailto:([^?>]+)\?subject=([^>]+)>", str(sink.messages[0].parsed["List-Unsubscribe"]))
    assert found
    return found[1], unquote(found[2])


def written(subject: str, number: str = "one") -> bytes:
    return (
        f"From: A. Owner <owner@owners.example>\r\nTo: <bounce+stop@back.fernhollow.example>\r\n"
        f"Date: Wed, 25 Nov 2026 09:30:00 +0000\r\nMessage-ID: <{number}@owners.example>\r\n"
        f"Subject: {subject}\r\n\r\n"
    ).encode()


@pytest.mark.usefixtures("read_here")
def test_what_the_mail_program_writes_stops_letters_and_the_next_round_writes_none(
    due_piece: Make, sink: MailSink
) -> None:
    piece = due_piece()
    round_on("2026-03-18")
    send()
    to, subject = asked_by(sink)
    assert to == "bounce+stop@back.fernhollow.example"
    assert come_back(written(subject)) is FoundInMail.STOP
    piece.owner.refresh_from_db()
    assert piece.owner.letters is False
    assert [answer.choice for answer in Answer.objects.all()] == ["no_more_letters"]
    recount("2026-05-04")
    assert [one.reason.value for one in round_on("2026-05-04").not_written] == ["no_more_letters"]


@pytest.mark.usefixtures("read_here")
def test_asked_twice_it_is_one_answer_and_the_letter_stays_sent(sent: Letter, sink: MailSink) -> None:
    _to, subject = asked_by(sink)
    assert come_back(written(subject)) is FoundInMail.STOP
    assert come_back(written(subject)) is None
    assert come_back(written(subject, "two")) is FoundInMail.STOP
    assert Answer.objects.count() == 1
    sent.refresh_from_db()
    assert sent.state == "sent"


@pytest.mark.usefixtures("read_here")
@pytest.mark.parametrize("change", ["forged", "another", "answered"])
def test_a_subject_that_only_looks_like_it_stops_nobody(sent: Letter, sink: MailSink, change: str) -> None:
    _to, subject = asked_by(sink)
    other = {
        "forged": re.sub(r".$", lambda last: "0" if last[0] != "0" else "1", subject),
        "another": subject.replace(f"letter.{sent.pk}.", f"letter.{sent.pk + 1}."),
        "answered": f"Re: {subject}",
    }[change]
    assert come_back(written(other)) is FoundInMail.NO_REPORT
    sent.owner.refresh_from_db()
    assert sent.owner.letters is not False


def test_where_nobody_reads_what_comes_back_the_wish_goes_to_the_house_s_own_address(
    sent: Letter, sink: MailSink
) -> None:
    assert asked_by(sink)[0] == "service@fernhollow.example"
