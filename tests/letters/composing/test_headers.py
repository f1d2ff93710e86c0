"""Whatever an owner, a piece or a house is called: the strict parser of the standard library finds nothing wrong."""

import email.policy
from email.header import decode_header, make_header
from email.message import EmailMessage
from email.parser import BytesParser
from email.utils import getaddresses

from django.test import override_settings
from hypothesis import example, given
from hypothesis import strategies as st

from service_center.letters.composing.mail import Attached, Envelope, mail
from service_center.letters.rules.addressing import one_line

ANY = st.text(st.characters(exclude_categories=["Cs"]), max_size=200)
WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=200)
ONCE = ("From", "To", "Subject", "Date", "Message-ID", "Auto-Submitted", "Content-Language", "MIME-Version")
EVIL = 'Ada\r\nBcc: eve@owners.example\r\n\r\n<script>", =?utf-8?q?=0D=0A?= \\" (a) @,;'


def parsed(content: bytes) -> EmailMessage:
    message = BytesParser(policy=email.policy.strict).parsebytes(content)
    assert isinstance(message, EmailMessage)
    assert all(part.defects == [] for part in message.walk())
    return message


def plain(name: str, content: bytes) -> str:
    """A header as RFC 2047 has it read; the newer reader of 3.11 keeps the space between two encoded words."""
    return str(make_header(decode_header(BytesParser(policy=email.policy.compat32).parsebytes(content)[name])))


def envelope(name: str) -> Envelope:
    return Envelope(
        name, "ada@owners.example", "<letter.1.0a@fernhollow.example>", "en", "https://care.example/o/stop/x/"
    )


@given(name=ANY, subject=ANY, house=ANY, text=WORDS)
@example(name=EVIL, subject=EVIL, house=EVIL, text=EVIL)
@example(name="x" * 1200, subject="y" * 1200, house="z" * 150, text="." * 80)
@example(name="ü" * 300, subject="時" * 300, house="🕰" * 30, text="From nobody\n.\n..\n--\n--=_x--\n")
def test_the_strict_parser_reads_back_what_was_written(name: str, subject: str, house: str, text: str) -> None:
    with override_settings(HOUSE_NAME=house):
        content = mail(subject, text, f"<p>{text}</p>", envelope(name))
    message = parsed(content)
    assert [len(message.get_all(one, [])) for one in ONCE] == [1] * len(ONCE)
    assert message["Bcc"] is None
    assert [one.addr_spec for one in message["To"].addresses] == ["ada@owners.example"]
    [(shown, _address)] = getaddresses([BytesParser(policy=email.policy.compat32).parsebytes(content)["To"]])
    assert one_line(str(make_header(decode_header(shown)))) == one_line(without_directions(name))
    assert plain("Subject", content).strip() == one_line(without_directions(subject))
    body = message.get_body(("plain",))
    assert body is not None
    assert body.get_content().split() == text.split()


def without_directions(text: str) -> str:
    """Isolates belong to sentences; a header's own fields stand apart anyway."""
    return "".join(char for char in text if char not in "\u2066\u2067\u2068\u2069")


@given(name=ANY, subject=ANY)
def test_no_line_is_too_long_and_all_is_of_seven_bits(name: str, subject: str) -> None:
    """RFC 5322, 2.1.1; RFC 2047, 2."""
    content = mail(subject, "Good day", "<p>Good day</p>", envelope(name))
    assert content.isascii()
    lines = content.split(b"\n")
    assert max(map(len, lines)) <= 998
    head = content.partition(b"\n\n")[0]
    assert not any(len(line) > 78 and b"=?" in line for line in head.split(b"\n"))


@given(ANY)
def test_an_entry_travels_whole_whatever_its_words(words: str) -> None:
    entry = f"BEGIN:VCALENDAR\r\nX:{one_line(words)}\r\nEND:VCALENDAR\r\n"
    kind = 'text/calendar; charset="utf-8"; method=PUBLISH'
    content = mail(
        "Visit", "Text", "<p>Text</p>", envelope("Ada"), attached=[Attached("visit.ics", kind, entry.encode())]
    )
    parts = [part for part in parsed(content).walk() if part.get_content_type() == "text/calendar"]
    assert [part.get_payload(decode=True).decode().replace("\r\n", "\n") for part in parts] == [
        entry.replace("\r\n", "\n")
    ] * 2
