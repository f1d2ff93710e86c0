"""What a letter's link shows: the letter's pieces only, in the owner's language, and a look changes nothing."""

from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from service_center.book.actions import move_piece
from service_center.book.models import Piece
from service_center.book.rules import Place
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory, history
from tests.owner_pages.conftest import SENT, Sent, make_link, send_about

Snapshot = Callable[[], dict[str, list[tuple[object, ...]]]]


def text_of(client: Client, address: str, **headers: str) -> str:
    response = client.get(address, headers=headers or None)
    assert response.status_code == 200, response.content
    return response.content.decode()


def test_the_page_names_the_piece_what_is_due_when_and_why(client: Client, sent: Sent) -> None:
    text = text_of(client, sent.address)
    for words in ("Skerry", "FH21-000042", "Overhaul", "17 May 2026", "17 May 2019", "Harrowmere"):
        assert words in text, words


def test_a_letter_about_two_kinds_says_both(client: Client, piece: Piece) -> None:
    text = text_of(client, send_about(piece, kinds=("overhaul", "tightness")).address)
    assert "Overhaul" in text
    assert "Tightness check" in text
    assert "17 May 2020" in text


def test_the_page_shows_no_other_piece_and_no_other_data_of_the_owner(client: Client, piece: Piece) -> None:
    PieceFactory(owner=piece.owner, serial="FH21-999999")
    text = text_of(client, send_about(piece).address)
    assert "FH21-999999" not in text
    assert piece.owner is not None
    assert piece.owner.email not in text
    assert piece.owner.phone not in text


def test_a_piece_that_changed_hands_is_not_shown_to_the_one_who_gave_it_away(client: Client, piece: Piece) -> None:
    sent = send_about(piece, PieceFactory(owner=piece.owner, serial="FH21-000043"))
    piece.owner = OwnerFactory()
    piece.save()
    text = text_of(client, sent.address)
    assert "FH21-000042" not in text
    assert "FH21-000043" in text


@pytest.mark.parametrize("after", ["overhauled", "held"])
def test_what_is_settled_asks_for_no_answer(client: Client, piece: Piece, after: str) -> None:
    sent = send_about(piece)
    if after == "overhauled":
        history(piece, "2026-05-20")
    else:
        move_piece(piece, to=Place.WORKSHOP, boutique=None, at=SENT, by=None)
    text = text_of(client, sent.address)
    assert "This letter needs no answer any more." in text
    assert 'value="booked"' not in text
    assert "workshop" not in text.lower()


@pytest.mark.parametrize(
    ("language", "lang", "words"),
    [
        ("en", "en", "17 May 2026"),
        ("fr", "fr", "17 mai 2026"),
        ("de-CH", "de", "17. Mai 2026"),
        ("it", "it", "17 maggio 2026"),
        ("es", "es", "17 de mayo de 2026"),
        ("ja", "ja", "2026年5月17日"),
        ("pt", "en", "17 May 2026"),
        ("", "en", "17 May 2026"),
    ],
)
def test_the_page_speaks_the_owners_language_whatever_the_browser_asks_for(
    client: Client, piece: Piece, language: str, lang: str, words: str
) -> None:
    piece.owner = OwnerFactory(language=language)
    piece.save()
    text = text_of(client, send_about(piece).address, accept_language="fr")
    assert f'<html lang="{lang}"' in text
    assert words in text


def test_a_look_changes_nothing(client: Client, sent: Sent, snapshot: Snapshot) -> None:
    before = snapshot()
    for address in (sent.address, f"{sent.address}?thanks", sent.answer_address, sent.stop_address):
        for _time in range(3):
            assert client.get(address).status_code in {200, 302}
            assert client.head(address).status_code in {200, 302}
            client.options(address)
    assert snapshot() == before


def test_pages_leak_the_secret_nowhere(client: Client, sent: Sent) -> None:
    for address in (sent.address, sent.stop_address, "/o/nothing/"):
        response = client.get(address)
        assert response["Referrer-Policy"] == "no-referrer"
        assert "noindex" in response["X-Robots-Tag"]
        assert "no-store" in response["Cache-Control"]
        text = response.content.decode()
        assert 'src="http' not in text
        assert 'href="http' not in text


def test_unknown_expired_and_withdrawn_secrets_look_alike(client: Client, sent: Sent) -> None:
    expired, withdrawn = "expired-secret", "withdrawn-secret"
    make_link(sent.letter, "page", expired, expires_at=datetime(2026, 6, 5, 9, 59, tzinfo=UTC))
    link = make_link(sent.letter, "page", withdrawn)
    link.withdrawn_at = timezone.now()
    link.save()
    answers = [client.get(f"/o/{secret}/") for secret in ("unknown-secret", expired, withdrawn, sent.stop)]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    assert "This link opens nothing" in answers[0].content.decode()


def test_a_secret_opens_its_own_purpose_only(client: Client, sent: Sent) -> None:
    assert client.get(f"/o/{sent.stop}/").status_code == 404
    assert client.get(f"/o/stop/{sent.page}/").status_code == 404
    assert client.post(f"/o/stop/{sent.page}/", {"List-Unsubscribe": "One-Click"}).status_code == 404


def test_a_page_that_is_not_there_speaks_the_browsers_language(client: Client, db: None) -> None:
    text = client.get("/o/unknown/", headers={"accept-language": "de-AT,de;q=0.9,en;q=0.5"}).content.decode()
    assert '<html lang="de"' in text
    assert "This link opens nothing" not in text


def test_the_twenty_first_miss_in_a_minute_is_refused_and_so_is_that_network(client: Client, sent: Sent) -> None:
    for number in range(20):
        assert client.get(f"/o/guess-{number}/").status_code == 404
    refused = client.get("/o/guess-20/")
    assert refused.status_code == 429
    assert refused["Retry-After"] == "60"
    assert client.get(sent.address).status_code == 429
    assert client.get(sent.address, REMOTE_ADDR="203.0.113.9").status_code == 200
    assert client.post(sent.stop_address, {"List-Unsubscribe": "One-Click"}).status_code == 200


def test_the_page_costs_as_many_statements_for_one_piece_as_for_twenty_one(client: Client, piece: Piece) -> None:
    text_of(client, send_about(piece).address)  # so that whatever is read once a process has been read
    alone = send_about(PieceFactory(owner=OwnerFactory(), boutique=piece.boutique))
    with CaptureQueriesContext(connection) as for_one:
        text_of(client, alone.address)
    owner = OwnerFactory()
    many = [PieceFactory(owner=owner, boutique=piece.boutique, model=piece.model) for _ in range(21)]
    sent = send_about(*many)
    with CaptureQueriesContext(connection) as for_many:
        text_of(client, sent.address)
    assert len(for_many) == len(for_one) <= 21


def test_an_owner_never_needs_to_sign_in_and_a_sign_in_opens_no_letter(client: Client, sent: Sent) -> None:
    assert client.get(sent.address).status_code == 200
    client.force_login(StaffFactory(role="manager"))
    assert client.get("/o/unknown/").status_code == 404


def test_a_boutique_of_the_owners_country_can_be_chosen_and_a_far_one_is_not_offered(
    client: Client, sent: Sent
) -> None:
    BoutiqueFactory(name="Nearby", country="GB")
    BoutiqueFactory(name="Far Away", country="JP")
    text = text_of(client, sent.address)
    assert "Nearby" in text
    assert "Far Away" not in text


def test_a_letter_without_any_piece_of_the_owner_says_so(client: Client, piece: Piece) -> None:
    sent = send_about(piece)
    piece.owner = None
    piece.save()
    text = text_of(client, sent.address)
    assert "In our book the watch of this letter is no longer yours" in text
    assert "If that is wrong, please write to us" in text


def test_today_is_the_owners_day(client: Client, piece: Piece, today: date) -> None:
    piece.owner = OwnerFactory(time_zone="Pacific/Kiritimati")  # 14 hours ahead: it is already the sixth there
    piece.save()
    assert 'max="2026-06-06"' in text_of(client, send_about(piece).address)
