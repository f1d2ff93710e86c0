"""The mail itself, read by the standard library's parser under its strict policy (RFC 5322, 2045, 2047, 2369, 3834, 8058)."""

import email.policy
import re
from collections.abc import Callable
from datetime import date
from email.header import decode_header, make_header
from email.parser import BytesParser
from email.utils import getaddresses
from typing import Any

import pytest
from django.utils import translation
from django.utils.formats import date_format

from service_center.book.models import Piece
from service_center.guarantee.queries import decision_of
from service_center.guarantee.rules import CoveredBy
from service_center.letters.composing import letter as compose
from service_center.letters.models import Letter
from service_center.letters.queries.contents import contents_of
from service_center.letters.rules.addressing import message_id, one_address, one_line
from service_center.letters.rules.layout import columns
from service_center.letters.smtp import on_the_wire
from service_center.owner_pages.queries import PieceAsked, boutiques_for
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, history
from tests.letters.conftest import NOW, recount, round_on, send
from tests.letters.sink import MailSink, Received

Make = Callable[..., Piece]

NAMES = [
    "Ada Winter",
    'Ann "Bee" O\'Hara, née Öz; (the 2nd) <x@y>',
    "Éloïse Desrosiers-Châteauneuf de la Tour d’Auvergne et de Saint-Barthélemy",
    "山田 花子",
    "דנה כהן",
    "نور الحسيني",
    "Δήμητρα Παπαδοπούλου",
    "Ольга Ковалёва",
    "Ada\r\nBcc: eve@owners.example",
    "",
]


def delivered(sink: MailSink, day: str = "2026-03-18") -> Received:
    round_on(day)
    assert send(day).sent == 1
    [mail] = sink.messages
    return mail


@pytest.mark.parametrize("name", NAMES)
def test_the_strict_parser_finds_nothing_wrong_whatever_the_owner_is_called(
    due_piece: Make, sink: MailSink, name: str
) -> None:
    owner = OwnerFactory(name=name)
    due_piece(owner=owner)
    mail = delivered(sink)
    parsed = BytesParser(policy=email.policy.strict).parsebytes(mail.content)
    assert parsed.defects == []
    [to] = mail.parsed["To"].addresses
    assert to.addr_spec == owner.email
    # The newer reader of 3.11 keeps the space between two encoded words, which RFC 2047, 6.2 says is none.
    raw = BytesParser(policy=email.policy.compat32).parsebytes(mail.content)["To"]
    [(shown, _address)] = getaddresses([raw])
    assert str(make_header(decode_header(shown))) == one_line(name)
    for once in ("Message-ID", "Date", "From", "To", "Subject", "Auto-Submitted", "List-Unsubscribe", "MIME-Version"):
        assert len(mail.parsed.get_all(once, [])) == 1
    assert mail.parsed["Bcc"] is None


def test_no_line_is_longer_than_the_rfc_allows_and_every_line_ends_in_crlf(due_piece: Make, sink: MailSink) -> None:
    """RFC 5322, 2.1.1: at most 998 characters, should be 78; RFC 2047, 2: encoded words of at most 75."""
    due_piece(owner=OwnerFactory(name=NAMES[2], language="ja"))
    content = delivered(sink).content
    assert not re.search(rb"[^\r]\n|\r[^\n]", content)
    assert max(len(line) for line in content.split(b"\r\n")) <= 998
    assert all(len(word) <= 75 for word in re.findall(rb"=\?utf-8\?[bq]\?[^?]*\?=", content))
    assert content.isascii()


def test_the_letter_is_plain_text_first_and_html_beside_it(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    parsed = delivered(sink).parsed
    assert parsed.get_content_type() == "multipart/alternative"
    assert [part.get_content_type() for part in parsed.iter_parts()] == ["text/plain", "text/html"]


def test_both_forms_name_the_piece_say_why_now_where_to_and_carry_the_link(due_piece: Make, sink: MailSink) -> None:
    piece = due_piece(boutique=BoutiqueFactory(name="Harrowmere"))
    mail = delivered(sink)
    for form in (" ".join(mail.text.split()), re.sub(r"\s+", " ", mail.html)):
        for said in (
            f"Dear {piece.owner}",
            "Skerry",
            piece.serial,
            "It was sold on 17 May 2019.",
            "We recommend an overhaul by 17 May 2026",
            "about 35 days",
            "Harrowmere",
            "http://127.0.0.1:8000/o/",
            "Fernhollow",
        ):
            assert said in form


def test_the_plain_text_is_of_a_readable_width_with_its_links_whole(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    lines = delivered(sink).text.splitlines()
    assert all(len(line) <= 76 for line in lines if "http" not in line)
    assert sum("http://127.0.0.1:8000/o/" in line for line in lines) == 2


def test_a_letter_says_that_no_person_sent_it(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    assert delivered(sink).parsed["Auto-Submitted"] == "auto-generated"  # RFC 3834, 5


def test_over_https_letters_stop_by_one_click(due_piece: Make, sink: MailSink, settings: Any) -> None:
    """RFC 8058, 3.1: one https address in List-Unsubscribe, and List-Unsubscribe-Post exactly so."""
    settings.SITE_URL = "https://care.fernhollow.example"
    due_piece()
    parsed = delivered(sink).parsed
    addresses = re.findall(r"<([^>]+)>", str(parsed["List-Unsubscribe"]))
    assert [one.split(":")[0] for one in addresses] == ["https", "mailto"]
    assert addresses[0].startswith("https://care.fernhollow.example/o/stop/")
    assert parsed["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"


def test_without_https_only_mail_stops_letters(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    parsed = delivered(sink).parsed
    assert (
        str(parsed["List-Unsubscribe"]).strip().startswith("<mailto:service@fernhollow.example?subject=stop%20letter.")
    )
    assert parsed["List-Unsubscribe-Post"] is None


def test_the_html_carries_its_styles_on_its_elements_and_asks_for_nothing_from_outside(
    due_piece: Make, sink: MailSink
) -> None:
    due_piece()
    html = delivered(sink).html
    assert re.search(r"<td[^>]+class=\"head\"[^>]+style=\"[^\"]*color", html)
    assert "prefers-color-scheme: dark" in html
    assert not re.search(r"<img|<script|<link|url\(|src=", html)
    assert set(re.findall(r"https?://[^/\"]+", html)) == {"http://127.0.0.1:8000"}


@pytest.mark.parametrize(
    ("language", "written_in"),
    [("de-AT", "de"), ("fr_CH", "fr"), ("ja", "ja"), ("pt-BR", "en"), ("", "en"), ("x-klingon", "en")],
)
def test_the_owners_language_or_else_english(due_piece: Make, sink: MailSink, language: str, written_in: str) -> None:
    due_piece(owner=OwnerFactory(language=language))
    mail = delivered(sink)
    assert mail.parsed["Content-Language"] == written_in
    with translation.override(written_in):
        assert mail.subject == translation.gettext("Your {piece}: time for an overhaul").format(piece="Skerry")
    assert f'<html lang="{written_in}">' in mail.html


@pytest.mark.parametrize(("language", "first"), [("fr", "1er décembre"), ("it", "1º dicembre")])
def test_the_first_of_a_month_is_an_ordinal_where_the_language_has_it_so(
    due_piece: Make, sink: MailSink, language: str, first: str
) -> None:
    due_piece(owner=OwnerFactory(language=language), sold_on=date(2019, 12, 1))
    mail = delivered(sink, "2026-10-02")
    assert f"{first} 2019" in " ".join(mail.text.split())
    assert f"{first} 2026" in " ".join(mail.text.split())
    assert mail.html.count(f"{first} 20") == 2


def test_an_owed_test_comes_with_its_caution(db: None, sink: MailSink) -> None:
    piece = PieceFactory(sold_on=None, made_on=None)
    history(piece, "2025-03-02")
    history(piece, "2026-02-02", kind="repair", done_by="outside", tightness="not_tested")
    mail = delivered(sink, "2026-02-03")
    assert "Its case was opened on 2 February 2026, and no tightness test is known since." in " ".join(
        mail.text.split()
    )
    assert "please keep it away from water" in mail.text


def test_the_overhaul_of_a_rated_piece_includes_the_check_and_says_so(db: None, sink: MailSink) -> None:
    PieceFactory()
    text = delivered(sink, "2026-03-18").text
    assert "It includes the tightness check." in " ".join(text.split())
    assert "Tightness check" not in text


def test_a_second_copy_is_the_same_message_with_the_same_id(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    sink.fail("after", "drop")
    round_on("2026-03-18")
    assert send().in_doubt == 1
    Letter.objects.update(state="waiting")  # as the desk's "sent again" does
    assert send().sent == 1
    first, second = sink.messages
    assert first.message_id == second.message_id
    assert first.subject == second.subject
    assert re.sub(r"/o/\S+", "", first.text) == re.sub(r"/o/\S+", "", second.text)


def test_a_message_id_is_the_letters_own_and_nobody_elses() -> None:
    one = message_id(42, secret="s", domain="fernhollow.example")
    assert re.fullmatch(r"<letter\.42\.[0-9a-f]{24}@fernhollow\.example>", one)
    assert one == message_id(42, secret="s", domain="fernhollow.example")
    assert one != message_id(42, secret="another", domain="fernhollow.example")


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("ada@owners.example", "ada@owners.example"),
        (" ada@owners.example ", "ada@owners.example"),
        ("ada@bücher.example", "ada@xn--bcher-kva.example"),
        ("ada@owners.example, eve@owners.example", None),
        ("ada@owners.example\r\nRCPT TO:<eve@owners.example>", None),
        ("Ada <ada@owners.example>", None),
        ("ada", None),
        ("@owners.example", None),
        ("ädа@owners.example", None),
        ("ada@owners..example", None),
        # Wide signs, which a domain in another script turns into those that part addresses and end them.
        ("ada@owners.example\uff0ceve\uff20owners.example", None),
        ("ada@owners.example\uff1e", None),
        ("ada@owners\uff20post.example", None),
        ("", None),
    ],
)
def test_a_letter_goes_to_exactly_one_plain_address(text: str, address: str | None) -> None:
    assert one_address(text) == address


def test_on_the_wire_leading_dots_are_doubled_and_lines_end_in_crlf() -> None:
    """RFC 5321, 4.5.2."""
    assert on_the_wire(b".a\n..b\r\nc\r.") == b"..a\r\n...b\r\nc\r\n..\r\n"


def test_a_letter_at_the_desk_shows_no_secret(due_piece: Make) -> None:
    due_piece()
    round_on("2026-03-18")
    letter = Letter.objects.select_related("owner").get()
    written = compose.write(contents_of([letter], now=NOW)[letter.pk], compose.masked_links())
    assert compose.MASK in written.text
    assert compose.MASK in written.html


def test_an_overhaul_that_a_guarantee_runs_beside_says_to_which_day(due_piece: Make, sink: MailSink) -> None:
    """Enrolled in time, the extension runs to 96 months after the sale: beyond the overhaul's 84."""
    piece = due_piece(extension_enrolled_on="2020-01-01")
    recount("2026-03-18")
    assert "Its extended guarantee runs to 17 May 2027" in " ".join(delivered(sink).text.split()), piece


def test_a_guarantee_on_our_own_work_is_called_so(due_piece: Make, sink: MailSink) -> None:
    """24 months from our repair, the day included, as the piece's page tells."""
    piece = due_piece()
    history(piece, "2025-10-01", kind="repair", done_by="own")
    recount("2026-03-18")
    text = " ".join(delivered(sink).text.split())
    told = decision_of(piece, date(2026, 3, 18), country="GB")
    assert told.covered_by is CoveredBy.WORK
    assert f"The guarantee on our work runs to {date_format(told.cover.to_on)}; care that falls due" in text


@pytest.mark.parametrize(
    ("country", "told"),
    [
        (
            "GB",
            "Please bring it to Harrowmere. In your country you can also bring it to: Tarn Lane.",
        ),
        (
            "CH",
            "Please bring it to Harrowmere. In your country you can also bring it to: Seehof.",
        ),
        ("JP", "Please bring it to Harrowmere, or to any of our boutiques."),
        ("", "Please bring it to Harrowmere, or to any of our boutiques."),
    ],
)
def test_a_letter_names_the_boutiques_that_booking_offers(
    due_piece: Make, sink: MailSink, country: str, told: str
) -> None:
    piece = due_piece(owner=OwnerFactory(country=country))
    BoutiqueFactory(name="Tarn Lane", country="GB")
    BoutiqueFactory(name="Seehof", country="CH", time_zone="Europe/Zurich")
    assert told in " ".join(delivered(sink).text.split())
    asked = [PieceAsked(piece, (), None)]
    offered = {one.name for one in boutiques_for(piece.owner, asked)}
    named = {name for name in ("Harrowmere", "Tarn Lane", "Seehof") if name in told}
    assert offered == ({"Harrowmere", "Tarn Lane", "Seehof"} if "any" in told else named)


def test_where_no_boutique_sold_it_the_letter_names_those_of_the_country(due_piece: Make, sink: MailSink) -> None:
    BoutiqueFactory(name="Tarn Lane", country="GB")
    due_piece(boutique=None, owner=OwnerFactory(country="GB"))
    assert "one of our boutiques in your country: Tarn Lane." in " ".join(delivered(sink).text.split())


def test_the_only_boutique_of_the_country_stands_alone(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    text = " ".join(delivered(sink).text.split())
    assert "Please bring it to Harrowmere." in text
    assert "any of our boutiques" not in text


def test_a_name_from_right_to_left_keeps_its_place_in_text_and_html_and_stands_alone_in_headers(
    due_piece: Make, sink: MailSink
) -> None:
    """UAX 9, 2.4: isolates in plain text, bdi in HTML; nothing of it in an address."""
    due_piece(owner=OwnerFactory(name="דנה כהן", language="de"), model__name="צוק")
    mail = delivered(sink)
    assert "Guten Tag \u2068דנה כהן\u2069," in mail.text
    assert 'Guten Tag <bdi dir="auto">דנה כהן</bdi>,' in mail.html
    assert mail.parsed["To"].addresses[0].display_name == "דנה כהן"
    assert not {"\u2068", "\u2069"} & set(mail.subject)
    [title] = re.findall("<title>(.*?)</title>", mail.html)
    assert "צוק" in title
    assert "bdi" not in title


def test_a_japanese_letter_is_broken_where_its_reader_expects_it(due_piece: Make, sink: MailSink) -> None:
    due_piece(owner=OwnerFactory(name="山田 花子", language="ja"))
    lines = [line for line in delivered(sink).text.splitlines() if "http" not in line]
    assert any(columns(line) > 60 for line in lines)
    assert all(columns(line) <= 76 for line in lines)


def test_boutiques_are_listed_as_the_letters_language_parts_them(due_piece: Make, sink: MailSink) -> None:
    due_piece(owner=OwnerFactory(name="山田 花子", language="ja", country="GB"))
    for name in ("Tarn Lane", "Moor Street"):
        BoutiqueFactory(name=name, country="GB")
    text = delivered(sink).text.replace("\n", "")
    assert "Moor Street、Tarn Lane" in text or "Tarn Lane、Moor Street" in text


def test_what_eighteen_letters_say_is_read_in_as_few_statements_as_what_two_say(
    due_piece: Make, sink: MailSink, django_assert_max_num_queries: Any
) -> None:
    for language in ("en", "fr", "de", "it", "es", "ja") * 3:
        due_piece(owner=OwnerFactory(language=language))
    round_on("2026-03-18")
    letters = list(Letter.objects.select_related("owner"))
    assert len(letters) == 18
    with django_assert_max_num_queries(10):
        contents_of(letters[:2], now=NOW)
    with django_assert_max_num_queries(10):
        contents_of(letters, now=NOW)
