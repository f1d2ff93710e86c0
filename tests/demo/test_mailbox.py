"""The demo's own mail server and the pages that show what it took."""

import smtplib
from email.message import EmailMessage
from pathlib import Path

import pytest
from django.test import Client

from service_center.demo.mailbox import MailSink, keys, mail
from tests.servers import free_port

pytestmark = pytest.mark.django_db


@pytest.fixture
def box(settings, tmp_path: Path) -> Path:
    """The mailbox of a demo in which two mails arrived, one after the other, over SMTP."""
    settings.DEMO, settings.DATA_DIR = True, tmp_path
    port = free_port()
    sink = MailSink(tmp_path / "demo-mail", port)
    sink.start()
    try:
        with smtplib.SMTP("127.0.0.1", port) as server:
            for subject in ("Ihre Skerry", "あなたの Skerry"):
                message = EmailMessage()
                message["From"], message["To"], message["Subject"] = "s@fernhollow.example", "o@owners.example", subject
                message.set_content(f"{subject}\n.a line that begins with a dot\nhttp://127.0.0.1/o/secret/\n")
                message.add_alternative(
                    f'<html><head><title>x</title></head><body><a href="http://127.0.0.1/o/secret/">{subject}</a></body></html>',
                    subtype="html",
                )
                server.send_message(message)
    finally:
        sink.stop()
    return tmp_path / "demo-mail"


def test_what_arrived_is_kept_as_it_was_sent_newest_first(box: Path) -> None:
    arrived = [mail(box, key) for key in keys(box)]
    assert [one.message["subject"] for one in arrived if one] == ["あなたの Skerry", "Ihre Skerry"]
    assert arrived[0] is not None
    assert "\n.a line that begins with a dot\n" in arrived[0].plain.replace("\r\n", "\n")


def test_everybody_reads_the_mail_and_its_links_can_be_followed(box: Path, signed_in) -> None:
    for role in ("boutique", "desk", "watchmaker", "manager"):
        client: Client = signed_in(role)
        assert "あなたの Skerry" in client.get("/demo/mail/").content.decode()
        page = client.get(f"/demo/mail/{keys(box)[0]}/").content.decode()
        assert 'href="http://127.0.0.1/o/secret/"' in page


def test_the_mails_html_runs_nothing_and_opens_its_links_beside_the_page(box: Path, signed_in) -> None:
    answer = signed_in("desk").get(f"/demo/mail/{keys(box)[0]}/html")
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "sandbox allow-popups allow-popups-to-escape-sandbox" in policy
    assert "script-src" not in policy
    assert '<base target="_blank">' in answer.content.decode()


def test_older_mail_is_a_page_further(box: Path, signed_in) -> None:
    newest, oldest = keys(box)
    page = signed_in("desk").get(f"/demo/mail/?before={newest}").content.decode()
    assert oldest in page
    assert newest not in page


@pytest.mark.parametrize("key", ["1795603433167740692-999", "secret_key", "..%2Fsecret_key", "x"])
def test_only_mail_can_be_read(box: Path, signed_in, key: str) -> None:
    (box.parent / "secret_key").write_text("secret")
    assert signed_in("desk").get(f"/demo/mail/{key}/").status_code == 404


def test_outside_the_demo_there_is_no_mailbox_and_no_way_to_it(box: Path, signed_in, settings) -> None:
    settings.DEMO = False
    client = signed_in("manager")
    for address in ("/demo/mail/", f"/demo/mail/{keys(box)[0]}/", f"/demo/mail/{keys(box)[0]}/html"):
        assert client.get(address).status_code == 404
    assert "/demo/mail/" not in client.get("/due/").content.decode()
    assert "fernhollow-desk" not in Client().get("/sign-in/").content.decode()
