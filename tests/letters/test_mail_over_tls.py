"""Letters and the house's password go to the mail server that the settings name, and to nobody who stands in between."""

import ssl
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from service_center.book.models import Piece
from service_center.letters.models import Letter
from tests.letters.certificate import make_certificate
from tests.letters.conftest import round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]


@pytest.fixture
def certificate(tmp_path: Path) -> Path:
    make_certificate(tmp_path)
    return tmp_path / "certificate.pem"


@pytest.fixture(params=["smtp+tls", "smtp+ssl"])
def server(
    request: pytest.FixtureRequest, certificate: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> Iterator[MailSink]:
    """A mail server that takes letters over TLS alone, and for whose certificate the machine vouches."""
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate))
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(certificate, certificate.with_name("key.pem"))
    from_within = request.param == "smtp+tls"
    with MailSink(tls=None if from_within else context, starttls=context if from_within else None) as sink:
        settings.MAIL_CONFIGURED = True
        settings.EMAIL_HOST, settings.EMAIL_PORT = sink.host, sink.port
        settings.EMAIL_USE_TLS, settings.EMAIL_USE_SSL = from_within, not from_within
        settings.EMAIL_TIMEOUT = settings.MAIL_DOT_SECONDS = 5
        settings.DATA_DIR = certificate.parent
        yield sink


@pytest.fixture
def letters(due_piece: Make) -> None:
    for _letter in range(3):
        due_piece()
    round_on("2026-03-18")


@pytest.mark.usefixtures("letters")
@pytest.mark.parametrize("together", [False, True], ids=["one command at a time", "commands together"])
def test_letters_go_over_tls_on_one_line(server: MailSink, *, together: bool) -> None:
    server.pipelining = together
    assert send().sent == 3
    assert len({mail.message_id for mail in server.messages}) == server.count == 3
    assert server.connections == 1


@pytest.mark.usefixtures("letters")
def test_a_certificate_that_nobody_vouches_for_gets_no_letter(
    server: MailSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SSL_CERT_FILE")
    assert "CERTIFICATE_VERIFY_FAILED" in send().trouble
    assert (server.count, set(Letter.objects.values_list("state", "attempt"))) == (0, {("waiting", 0)})


@pytest.mark.usefixtures("letters")
def test_a_certificate_of_another_name_gets_no_letter(server: MailSink, settings: Any) -> None:
    settings.EMAIL_HOST = "localhost"
    assert "CERTIFICATE_VERIFY_FAILED" in send().trouble
    assert (server.count, set(Letter.objects.values_list("state", "attempt"))) == (0, {("waiting", 0)})
