"""What an owner answers, and what follows from it."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from django.db import connection, connections
from django.test import Client

from service_center.access.models import Trail
from service_center.book.models import HistoryEntry, Owner, Piece
from service_center.intervals.queries import due_of
from service_center.letters.models import Answer
from tests.factories import OwnerFactory, PieceFactory, history
from tests.owner_pages.conftest import TODAY, Sent, make_link, send_about

BOOKED = {"choice": "booked", "boutique": "HARROW", "day": "2026-06-12"}


def say(client: Client, sent: Sent, **fields: str) -> str:
    """Answer about the usual piece; the page after it."""
    response = client.post(sent.answer_address, {"piece": "FH21-000042"} | fields, follow=True)
    assert response.status_code == 200, response.content
    return response.content.decode()


def standing() -> list[tuple[str, date | None, str | None]]:
    return list(Answer.objects.order_by("pk").values_list("choice", "day", "boutique__code"))


def services_standing() -> list[HistoryEntry]:
    """Entries that nothing voids and that void nothing to say that it never happened."""
    rows = HistoryEntry.objects.filter(corrections=None).order_by("pk")
    return [row for row in rows if not (row.voids and not row.accepted)]


def test_a_visit_is_written_down_and_the_page_says_where_and_when(client: Client, sent: Sent) -> None:
    text = say(client, sent, **BOOKED)
    assert standing() == [("booked", date(2026, 6, 12), "HARROW")]
    assert "Thank you" in text
    assert "You bring it to Harrowmere on 12 June 2026." in text
    answer = Answer.objects.get()
    assert (answer.said_on, answer.recorded_by, answer.letter) == (TODAY, None, sent.letter)


def test_not_now_holds_until_the_day_the_owner_names(client: Client, sent: Sent) -> None:
    text = say(client, sent, choice="not_now", day="2026-09-01")
    assert standing() == [("not_now", date(2026, 9, 1), None)]
    assert "1 September 2026" in text


def test_no_longer_mine_keeps_the_book_as_it_is_until_the_desk_looks(client: Client, sent: Sent, piece: Piece) -> None:
    text = say(client, sent, choice="no_longer_mine")
    assert standing() == [("no_longer_mine", None, None)]
    assert "no longer yours" in text
    piece.refresh_from_db()
    assert piece.owner == sent.letter.owner


def test_done_elsewhere_is_an_entry_outside_that_starts_nothing_yet(client: Client, sent: Sent, piece: Piece) -> None:
    before = due_of(piece, TODAY)
    say(client, sent, choice="done_elsewhere", day="2026-02-03")
    entry = HistoryEntry.objects.get()
    assert (entry.done_on, entry.kind, entry.done_by, entry.accepted) == (
        date(2026, 2, 3),
        "overhaul",
        "outside",
        False,
    )
    assert entry.case_opened is None
    assert entry.tightness == "not_tested"
    assert due_of(piece, TODAY) == before  # and no tightness test became owed by hearsay


def test_a_check_done_elsewhere_is_noted_as_a_check(client: Client, piece: Piece) -> None:
    say(client, send_about(piece, kinds=("tightness",)), choice="done_elsewhere", day="2026-02-03")
    assert HistoryEntry.objects.get().kind == "tightness_check"


def test_each_answer_can_be_changed_by_answering_again(client: Client, sent: Sent) -> None:
    say(client, sent, **BOOKED)
    text = say(client, sent, choice="not_now", day="2026-09-01")
    assert [choice for choice, _day, _boutique in standing()] == ["booked", "not_now"]
    assert "You bring it to Harrowmere" not in text
    text = say(client, sent, **BOOKED)
    assert "You bring it to Harrowmere on 12 June 2026." in text


def test_a_double_tap_is_one_answer(client: Client, sent: Sent) -> None:
    say(client, sent, choice="done_elsewhere", day="2026-02-03")
    say(client, sent, choice="done_elsewhere", day="2026-02-03")
    assert Answer.objects.count() == 1
    assert HistoryEntry.objects.count() == 1


def test_a_service_that_the_owner_takes_back_no_longer_stands(client: Client, sent: Sent) -> None:
    say(client, sent, choice="done_elsewhere", day="2026-02-03")
    say(client, sent, choice="done_elsewhere", day="2026-03-04")
    assert [entry.done_on for entry in services_standing()] == [date(2026, 3, 4)]
    say(client, sent, **BOOKED)
    assert services_standing() == []
    say(client, sent, choice="done_elsewhere", day="2026-02-03")
    assert [entry.done_on for entry in services_standing()] == [date(2026, 2, 3)]
    assert Answer.objects.count() == 4


def test_a_service_that_the_desk_accepts_settles_the_letter(client: Client, sent: Sent, piece: Piece) -> None:
    say(client, sent, choice="done_elsewhere", day="2026-02-03")
    history(piece, "2026-02-03", done_by="outside", accepted=True, voids=HistoryEntry.objects.get())
    assert "This letter needs no answer any more" in client.get(sent.address).content.decode()


def test_what_the_desk_has_corrected_since_is_not_taken_back(client: Client, sent: Sent, piece: Piece) -> None:
    say(client, sent, choice="done_elsewhere", day="2026-02-03")
    told = HistoryEntry.objects.get()
    strap = {"kind": "strap", "case_opened": False, "tightness": "not_tested", "done_by": "outside"}
    corrected = history(piece, "2026-02-03", **strap, accepted=True, voids=told)
    say(client, sent, choice="not_now", day="2026-09-01")
    assert services_standing() == [corrected]


@pytest.mark.django_db(transaction=True)
def test_the_same_answer_sent_five_times_at_once_is_one(sent: Sent) -> None:
    def tap(_number: int) -> int:
        try:
            return (
                Client()
                .post(sent.answer_address, {"piece": "FH21-000042", "choice": "done_elsewhere", "day": "2026-02-03"})
                .status_code
            )
        finally:
            connections.close_all()

    with ThreadPoolExecutor(5) as at_once:
        assert list(at_once.map(tap, range(5))) == [302] * 5
    assert Answer.objects.count() == 1
    assert HistoryEntry.objects.count() == 1
    assert connection.vendor in {"sqlite", "postgresql"}


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"choice": "booked", "boutique": "HARROW", "day": "2026-06-05"}, "booked"),
        ({"choice": "booked", "boutique": "HARROW", "day": ""}, "booked"),
        ({"choice": "booked", "boutique": "NOWHERE", "day": "2026-06-12"}, "booked"),
        ({"choice": "not_now", "day": "yesterday"}, "not_now"),
        ({"choice": "not_now", "day": "2036-01-01"}, "not_now"),
        ({"choice": "done_elsewhere", "day": "2027-01-01"}, "done_elsewhere"),
        ({"choice": "done_elsewhere", "day": "1019-01-01"}, "done_elsewhere"),
    ],
)
def test_an_answer_that_cannot_be_is_refused_with_its_reason_and_writes_nothing(
    client: Client, sent: Sent, fields: dict[str, str], field: str
) -> None:
    response = client.post(sent.answer_address, {"piece": "FH21-000042"} | fields)
    assert response.status_code == 422
    text = response.content.decode()
    assert "field__error" in text
    assert f'value="{fields["day"]}"' in text  # what was typed is still there
    assert standing() == []


@pytest.mark.parametrize(
    "fields",
    [
        {"piece": "FH21-000042", "choice": "sell_it"},
        {"piece": "FH21-000042", "choice": ""},
        {"piece": "FH21-777777", **BOOKED},
        {"piece": "", **BOOKED},
        {},
    ],
)
def test_what_the_page_does_not_offer_is_refused(client: Client, sent: Sent, fields: dict[str, str]) -> None:
    PieceFactory(owner=sent.letter.owner, serial="FH21-777777")  # the owner's own, but not in this letter
    assert client.post(sent.answer_address, fields).status_code == 400
    assert standing() == []


def test_a_letter_opens_no_answer_about_another_owners_piece(client: Client, sent: Sent) -> None:
    other = send_about(PieceFactory(serial="FH21-555555", owner=OwnerFactory()))
    response = client.post(sent.answer_address, {"piece": "FH21-555555", **BOOKED})
    assert response.status_code == 400
    assert standing() == []
    assert other.letter.owner != sent.letter.owner


def test_what_is_settled_takes_no_answer(client: Client, sent: Sent, piece: Piece) -> None:
    Piece.objects.filter(pk=piece.pk).update(status="lost")
    assert client.post(sent.answer_address, {"piece": "FH21-000042", **BOOKED}).status_code == 400
    assert standing() == []


def test_no_more_letters_holds_for_all_and_can_be_taken_back(client: Client, sent: Sent) -> None:
    text = say(client, sent, choice="no_more_letters")
    owner = Owner.objects.get(pk=sent.letter.owner_id)
    assert owner.letters is False
    assert "You get no more letters from us" in text
    assert "Write to me again" in text
    say(client, sent, choice="letters_again")
    owner.refresh_from_db()
    assert owner.letters is True
    assert Trail.objects.get(deed="letters_again").subject == f"owner:{owner.code}"


def test_taking_back_what_was_never_said_gives_no_consent(client: Client, piece: Piece) -> None:
    piece.owner = OwnerFactory(letters=None)
    piece.save()
    say(client, send_about(piece), choice="letters_again")
    assert Owner.objects.get(pk=piece.owner.pk).letters is None


def test_an_answer_to_the_last_letter_stands_on_a_later_ones_page_only_if_given_after_it(
    client: Client, sent: Sent, piece: Piece
) -> None:
    say(client, sent, **BOOKED)
    make_link(sent.letter, "page", "a-second-device")
    assert "You bring it to Harrowmere" in client.get("/o/a-second-device/").content.decode()


def test_several_pieces_can_come_on_one_visit(client: Client, piece: Piece) -> None:
    second = PieceFactory(owner=piece.owner, serial="FH21-000043")
    sent = send_about(piece, second)
    page = client.get(sent.address).content.decode()
    assert "Bring them together" in page
    client.post(sent.answer_address, BOOKED | {"piece": ["FH21-000042", "FH21-000043"]})
    assert standing() == [("booked", date(2026, 6, 12), "HARROW")] * 2
    assert "Bring them together" not in client.get(sent.address).content.decode()


def test_only_a_visit_can_be_for_several_pieces(client: Client, piece: Piece) -> None:
    second = PieceFactory(owner=piece.owner, serial="FH21-000043")
    sent = send_about(piece, second)
    both = {"piece": ["FH21-000042", "FH21-000043"]}
    assert client.post(sent.answer_address, both | {"choice": "no_longer_mine"}).status_code == 400
    refused = client.post(sent.answer_address, both | BOOKED | {"day": "2026-06-05"})
    assert refused.status_code == 422
    assert "Please choose a day from 6 June 2026 to 2 December 2026." in refused.content.decode()
    assert standing() == []


# Cross-site request forgery: on, for pages that send no referrer


def test_an_answer_without_the_pages_own_token_is_refused_kindly(sent: Sent) -> None:
    client = Client(enforce_csrf_checks=True)
    response = client.post(sent.answer_address, {"piece": "FH21-000042", **BOOKED})
    assert response.status_code == 403
    assert "press the button once more" in response.content.decode()
    assert standing() == []


@pytest.mark.parametrize("secure", [False, True])
@pytest.mark.parametrize(
    ("origin", "status"), [("null", 302), (None, 302), ("https://elsewhere.example", 403), ("same", 302)]
)
def test_the_origin_may_be_hidden_but_not_foreign(sent: Sent, origin: str | None, status: int, secure: bool) -> None:
    client = Client(enforce_csrf_checks=True)
    page = client.get(sent.address, secure=secure)
    token = page.context["csrf_token"]
    headers = {} if origin is None else {"origin": origin}
    if origin == "same":
        headers = {"origin": f"{'https' if secure else 'http'}://testserver"}
    response = client.post(
        sent.answer_address,
        {"piece": "FH21-000042", **BOOKED, "csrfmiddlewaretoken": str(token)},
        headers=headers,
        secure=secure,
    )
    assert response.status_code == status


# One click from the mail program (RFC 8058)


@pytest.mark.parametrize("form", ["application/x-www-form-urlencoded", "multipart/form-data"])
def test_one_click_stops_all_letters_at_once_without_cookie_page_or_detour(sent: Sent, form: str) -> None:
    client = Client(enforce_csrf_checks=True)
    if form.startswith("multipart"):
        response = client.post(sent.stop_address, {"List-Unsubscribe": "One-Click"})
    else:
        response = client.post(sent.stop_address, "List-Unsubscribe=One-Click", content_type=form)
    assert response.status_code == 200
    assert not response.cookies
    assert Owner.objects.get(pk=sent.letter.owner_id).letters is False
    assert standing() == [("no_more_letters", None, None)]


def test_one_click_twice_is_one(client: Client, sent: Sent) -> None:
    for _time in range(2):
        assert client.post(sent.stop_address, {"List-Unsubscribe": "One-Click"}).status_code == 200
    assert Answer.objects.count() == 1


def test_a_post_that_is_not_the_one_click_stops_nothing(client: Client, sent: Sent) -> None:
    assert client.post(sent.stop_address, {}).status_code == 400
    assert Owner.objects.get(pk=sent.letter.owner_id).letters is True


def test_looking_at_the_stop_address_shows_a_button_and_stops_nothing(client: Client, sent: Sent) -> None:
    text = client.get(sent.stop_address).content.decode()
    assert 'name="List-Unsubscribe" value="One-Click"' in text
    assert Owner.objects.get(pk=sent.letter.owner_id).letters is True


def test_the_page_takes_the_stop_back_by_its_own_button(client: Client, sent: Sent) -> None:
    client.post(sent.stop_address, {"List-Unsubscribe": "One-Click"})
    assert "Write to me again" in client.get(sent.stop_address).content.decode()
    again = client.post(sent.stop_address, {"letters_again": "yes"})
    assert "We write to you again when a watch of yours is due for its care." in again.content.decode()
    assert "No more letters, please" in again.content.decode()
    assert Owner.objects.get(pk=sent.letter.owner_id).letters is True
