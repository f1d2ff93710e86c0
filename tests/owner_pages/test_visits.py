"""An owner books a place behind the letter's link, moves it, and gives it up."""

import re
from collections.abc import Callable
from datetime import date, time
from uuid import uuid4

import pytest
import time_machine
from django.test import Client
from icalendar import Calendar

from service_center.book.models import Boutique, Piece
from service_center.intake.visits.models import Visit
from service_center.letters.models import Answer, Confirmation
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory
from tests.intake.visits import keep_hours
from tests.owner_pages.conftest import Sent, send_about

FRIDAY = "2026-06-12"


@pytest.fixture
def boutique(piece: Piece) -> Boutique:
    """The piece's own, Harrowmere, which receives one owner at a time from ten to noon on weekdays."""
    assert piece.boutique
    return keep_hours(piece.boutique)


@pytest.fixture
def other(boutique: Boutique) -> Sent:
    """Somebody else's letter."""
    return send_about(PieceFactory(serial="FH21-555555", boutique=boutique, owner=OwnerFactory()))


def visit_address(sent: Sent, rest: str = "") -> str:
    return f"{sent.address}visit/{rest}"


def ask(client: Client, sent: Sent, start: str = f"{FRIDAY}T10:00", *serials: str, **more: str):
    fields = {"piece": serials or ("FH21-000042",), "boutique": "HARROW", "start": start, "form_key": str(uuid4())}
    return client.post(visit_address(sent), fields | more)


def booked(client: Client, sent: Sent, start: str = f"{FRIDAY}T10:00", *serials: str) -> Visit:
    response = ask(client, sent, start, *serials)
    assert response.status_code == 302, response.content.decode()
    return Visit.objects.latest("pk")


def text_of(response) -> str:
    """What a page says, as one line."""
    plain = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", plain)


def offered(client: Client, address: str) -> list[str]:
    return re.findall(r'name="start" value="([^"]+)"', client.get(address).content.decode())


def test_a_boutique_with_opening_hours_is_visited_by_the_hour(client: Client, sent: Sent, boutique: Boutique) -> None:
    page = client.get(sent.address).content.decode()
    assert f'href="{visit_address(sent)}?piece=FH21-000042"' in page
    assert 'name="choice" value="booked"' not in page
    by_day = {"piece": "FH21-000042", "choice": "booked", "boutique": "HARROW", "day": FRIDAY}
    assert client.post(sent.answer_address, by_day).status_code == 400
    assert not Answer.objects.exists()


def test_the_page_offers_the_free_places_of_the_first_day_and_of_each_that_is_chosen(
    client: Client, sent: Sent, boutique: Boutique, other: Sent
) -> None:
    booked(client, other, "2026-06-08T10:30", "FH21-555555")
    page = visit_address(sent, "?piece=FH21-000042")
    assert offered(client, page) == ["2026-06-08T10:00", "2026-06-08T11:00", "2026-06-08T11:30"]  # after the weekend
    assert offered(client, f"{page}&boutique=HARROW&day={FRIDAY}")[0] == f"{FRIDAY}T10:00"
    days = text_of(client.get(page))
    assert "Mon 8 Jun" in days
    assert "Sat 13 Jun" not in days
    later = client.get(page + "&from=2026-06-20").content.decode()
    assert "Mon 22 Jun" in later
    assert "Earlier days" in later


def test_one_press_books_the_visit_and_says_where_and_when(client: Client, sent: Sent, boutique: Boutique) -> None:
    response = ask(client, sent)
    visit = Visit.objects.get()
    assert response["Location"] == visit_address(sent, f"{visit.pk}/?thanks")
    page = text_of(client.get(response["Location"]))
    assert "Your visit is booked" in page
    assert "You come to Harrowmere on Friday, 12 June 2026 at 10:00." in page
    assert list(Answer.objects.values_list("choice", "day", "boutique__code")) == [
        ("booked", date(2026, 6, 12), "HARROW")
    ]
    letter = client.get(sent.address).content.decode()
    assert "You come to Harrowmere on Friday, 12 June 2026 at 10:00." in letter
    assert visit_address(sent, f"{visit.pk}/") in letter


def test_who_comes_second_is_told_kindly_and_offered_the_next_places(
    client: Client, sent: Sent, boutique: Boutique, other: Sent
) -> None:
    booked(client, other, f"{FRIDAY}T11:30", "FH21-555555")
    response = ask(client, sent, f"{FRIDAY}T11:30", day=FRIDAY)
    assert response.status_code == 409
    assert "Somebody else has just taken this place. Nothing was booked." in text_of(response)
    following = re.findall(r'name="start" value="([^"]+)"', response.content.decode())
    assert following[:2] == ["2026-06-15T10:00", "2026-06-15T10:30"]
    assert (Visit.objects.count(), Answer.objects.filter(owner=sent.letter.owner).count()) == (1, 0)
    booked(client, sent, following[0])


def test_the_same_press_twice_is_one_visit(client: Client, sent: Sent, boutique: Boutique) -> None:
    form = str(uuid4())
    answers = [ask(client, sent, form_key=form)["Location"] for _time in range(2)]
    assert answers[0] == answers[1]
    assert (Visit.objects.count(), Answer.objects.count()) == (1, 1)


def test_an_old_page_that_books_a_piece_again_leads_to_the_visit_it_has(
    client: Client, sent: Sent, boutique: Boutique
) -> None:
    visit = booked(client, sent)
    response = ask(client, sent, f"{FRIDAY}T11:00")
    assert response["Location"] == visit_address(sent, f"{visit.pk}/?already")
    assert "so no other was booked" in client.get(response["Location"]).content.decode()
    assert Visit.objects.get().at == time(10)


def test_several_watches_of_a_letter_come_on_one_visit(client: Client, piece: Piece, boutique: Boutique) -> None:
    PieceFactory(owner=piece.owner, serial="FH21-000043")
    sent = send_about(piece, Piece.objects.get(serial="FH21-000043"))
    page = client.get(sent.address).content.decode()
    assert "Bring them together" in page
    assert page.count('type="checkbox" name="piece"') == 2
    visit = booked(client, sent, f"{FRIDAY}T10:00", "FH21-000042", "FH21-000043")
    assert visit.coming.count() == 2
    assert Answer.objects.filter(choice="booked").count() == 2
    shown = text_of(client.get(visit_address(sent, f"{visit.pk}/")))
    assert "FH21-000042" in shown
    assert "FH21-000043" in shown


def test_a_visit_is_moved_by_the_same_page(client: Client, sent: Sent, boutique: Boutique) -> None:
    visit = booked(client, sent)
    move = visit_address(sent, f"{visit.pk}/move/")
    assert f"{FRIDAY}T10:00" in offered(client, f"{move}?day={FRIDAY}")  # no place is taken from itself
    fields = {"boutique": "HARROW", "start": f"{FRIDAY}T11:00", "form_key": str(uuid4())}
    assert client.post(move, fields)["Location"] == visit_address(sent, f"{visit.pk}/?thanks")
    visit.refresh_from_db()
    assert (visit.at, visit.sequence) == (time(11), 1)


def test_a_visit_that_cannot_be_moved_there_stays_as_it_was(
    client: Client, sent: Sent, boutique: Boutique, other: Sent
) -> None:
    visit = booked(client, sent)
    booked(client, other, f"{FRIDAY}T11:00", "FH21-555555")
    fields = {"boutique": "HARROW", "start": f"{FRIDAY}T11:00", "form_key": str(uuid4())}
    response = client.post(visit_address(sent, f"{visit.pk}/move/"), fields)
    assert response.status_code == 409
    assert "Your visit stays as it was." in text_of(response)
    visit.refresh_from_db()
    assert (visit.at, visit.sequence) == (time(10), 0)


def test_a_visit_is_cancelled_and_the_owner_says_when_to_be_asked_again(
    client: Client, sent: Sent, boutique: Boutique
) -> None:
    visit = booked(client, sent)
    cancel = visit_address(sent, f"{visit.pk}/cancel/")
    wrong = client.post(cancel, {"day": "2026-06-05", "form_key": str(uuid4())})
    assert wrong.status_code == 422
    assert "Please choose a day from 6 June 2026" in text_of(wrong)
    response = client.post(cancel, {"day": "2026-07-03", "form_key": str(uuid4())}, follow=True)
    assert "This visit is cancelled" in text_of(response)
    assert "Not now: we will not write to you about it before 3 July 2026." in text_of(client.get(sent.address))
    assert f'href="{visit_address(sent)}?piece=FH21-000042"' in client.get(sent.address).content.decode()
    assert f"{FRIDAY}T10:00" in offered(client, visit_address(sent, f"?piece=FH21-000042&day={FRIDAY}"))


@pytest.mark.parametrize(
    "said",
    [
        {"choice": "not_now", "day": "2026-09-01"},
        {"choice": "no_longer_mine"},
        {"choice": "done_elsewhere", "day": "2026-02-03"},
    ],
)
def test_another_answer_gives_the_place_back(
    client: Client, sent: Sent, boutique: Boutique, said: dict[str, str]
) -> None:
    visit = booked(client, sent)
    client.post(sent.answer_address, {"piece": "FH21-000042"} | said)
    visit.refresh_from_db()
    assert visit.state == "cancelled"
    assert Answer.objects.latest("pk").choice == said["choice"]


@pytest.mark.parametrize(
    "fields",
    [
        {"start": "2026-06-12T10:07"},
        {"start": "2026-06-13T10:00"},
        {"start": "2026-06-05T11:00"},
        {"start": "2036-06-12T10:00"},
        {"start": "tomorrow"},
        {"start": "2026-06-12T10:00Z"},
        {"start": ""},
        {"boutique": "NOWHERE"},
        {"form_key": "again"},
    ],
)
def test_what_the_page_does_not_offer_books_nothing_and_says_so(
    client: Client, sent: Sent, boutique: Boutique, fields: dict[str, str]
) -> None:
    response = ask(client, sent, **{"start": f"{FRIDAY}T10:00"} | fields)
    assert response.status_code in {409, 422}
    assert "This time cannot be booked any more. Nothing was booked." in text_of(response)
    assert not Visit.objects.exists()


def test_a_boutique_far_from_the_owner_is_not_offered(client: Client, sent: Sent, boutique: Boutique) -> None:
    keep_hours(BoutiqueFactory(code="FAROE", name="Saltby", country="FO"))
    assert ask(client, sent, boutique="FAROE").status_code == 422
    assert "Saltby" not in client.get(visit_address(sent, "?piece=FH21-000042")).content.decode()


@pytest.mark.parametrize("serial", ["FH21-777777", "FH21-555555", ""])
def test_only_the_pieces_of_the_letter_can_be_brought(
    client: Client, sent: Sent, boutique: Boutique, other: Sent, serial: str
) -> None:
    PieceFactory(owner=sent.letter.owner, serial="FH21-777777")  # the owner's own, but not in this letter
    assert ask(client, sent, f"{FRIDAY}T10:00", serial)["Location"] == f"{sent.address}?unheard"
    assert client.get(visit_address(sent, f"?piece={serial}")).status_code == 302
    assert not Visit.objects.exists()


def test_another_owners_visit_is_not_there(client: Client, sent: Sent, boutique: Boutique, other: Sent) -> None:
    visit = booked(client, other, f"{FRIDAY}T10:00", "FH21-555555")
    before = list(Visit.objects.values_list())
    for rest in ("", "move/", "cancel/", "visit.ics"):
        address = visit_address(sent, f"{visit.pk}/{rest}")
        assert client.get(address).status_code == 404
        fields = {"day": "2026-09-01", "boutique": "HARROW", "start": f"{FRIDAY}T11:00", "form_key": str(uuid4())}
        assert client.post(address, fields).status_code in {404, 405}
    assert list(Visit.objects.values_list()) == before


def test_looking_at_any_of_it_changes_nothing_and_is_kept_nowhere(
    client: Client, sent: Sent, boutique: Boutique, snapshot: Callable[[], dict[str, list[tuple[object, ...]]]]
) -> None:
    visit = booked(client, sent)
    before = snapshot()
    for rest in ("?piece=FH21-000042", *(f"{visit.pk}/{page}" for page in ("", "move/", "cancel/", "visit.ics"))):
        for look in (client.get, client.head):
            response = look(visit_address(sent, rest))
            assert response.status_code in {200, 302}
            assert response["Cache-Control"] == "no-store, private"
            assert response["Referrer-Policy"] == "no-referrer"
    assert snapshot() == before


def test_without_the_pages_own_token_nothing_is_booked_moved_or_cancelled(
    client: Client, sent: Sent, boutique: Boutique
) -> None:
    visit, strict = booked(client, sent), Client(enforce_csrf_checks=True)
    fields = {"boutique": "HARROW", "start": f"{FRIDAY}T11:00", "form_key": str(uuid4()), "day": "2026-09-01"}
    for rest in (f"{visit.pk}/move/", f"{visit.pk}/cancel/", ""):
        assert strict.post(visit_address(sent, rest), fields).status_code == 403
    visit.refresh_from_db()
    assert (visit.state, visit.sequence) == ("booked", 0)


def test_the_visit_goes_into_the_owners_calendar_and_out_of_it(client: Client, sent: Sent, boutique: Boutique) -> None:
    visit = booked(client, sent)
    file = client.get(visit_address(sent, f"{visit.pk}/visit.ics"))
    assert file["Content-Type"] == "text/calendar; charset=utf-8; method=PUBLISH"
    assert file["Content-Disposition"] == 'attachment; filename="2026-06-12.ics"'
    assert sent.page.encode() not in file.content
    [event] = Calendar.from_ical(file.content).events
    client.post(visit_address(sent, f"{visit.pk}/cancel/"), {"day": "2026-07-03", "form_key": str(uuid4())})
    cancelled = client.get(visit_address(sent, f"{visit.pk}/visit.ics"))
    assert cancelled["Content-Type"].endswith("method=CANCEL")
    [gone] = Calendar.from_ical(cancelled.content).events
    assert (gone["uid"], gone["status"], gone["sequence"]) == (event["uid"], "CANCELLED", 1)


def test_a_visit_that_has_begun_can_only_be_looked_at(client: Client, sent: Sent, boutique: Boutique) -> None:
    visit = booked(client, sent)
    with time_machine.travel("2026-06-12T09:00:00Z", tick=False):
        page = client.get(visit_address(sent, f"{visit.pk}/")).content.decode()
        assert "Cancel the visit" not in page
        assert client.get(visit_address(sent, f"{visit.pk}/move/")).status_code == 302
        cancel = {"day": "2026-07-03", "form_key": str(uuid4())}
        assert client.post(visit_address(sent, f"{visit.pk}/cancel/"), cancel).status_code == 409


def test_a_boutique_that_is_booked_out_says_so(client: Client, sent: Sent, boutique: Boutique) -> None:
    boutique.closures.create(first_day=date(2026, 6, 1), last_day=date(2027, 6, 1), reason="Rebuilding")
    page = visit_address(sent, "?piece=FH21-000042")
    assert "This boutique has no free place in the coming months." in text_of(client.get(page))
    assert offered(client, page) == []


def test_a_watch_that_was_sold_is_no_more_on_the_visit_of_who_had_it(
    client: Client, piece: Piece, boutique: Boutique
) -> None:
    """Two come together; one is sold before the day: no page, calendar, letter or answer of the seller speaks of it."""
    sold = PieceFactory(owner=piece.owner, serial="FH21-000043", boutique=boutique)
    sent = send_about(piece, sold)
    visit = booked(client, sent, f"{FRIDAY}T10:00", piece.serial, sold.serial)
    buyer = OwnerFactory()
    Piece.objects.filter(pk=sold.pk).update(owner=buyer)
    answers = Answer.objects.filter(piece=sold).count()
    assert sold.serial not in text_of(client.get(visit_address(sent, f"{visit.pk}/")))
    assert sold.serial not in text_of(client.get(visit_address(sent, f"{visit.pk}/move/")))
    assert sold.serial.encode() not in client.get(visit_address(sent, f"{visit.pk}/visit.ics")).content
    moved = {"boutique": "HARROW", "start": f"{FRIDAY}T11:00", "form_key": str(uuid4())}
    assert client.post(visit_address(sent, f"{visit.pk}/move/"), moved).status_code == 302
    entry = Confirmation.objects.latest("pk").entry
    assert (piece.serial in entry, sold.serial in entry) == (True, False)
    client.post(visit_address(sent, f"{visit.pk}/cancel/"), {"day": "2026-07-03", "form_key": str(uuid4())})
    assert Visit.objects.get().state == "cancelled"
    assert list(Answer.objects.filter(piece=piece).order_by("pk").values_list("choice", flat=True)) == [
        "booked", "booked", "not_now",
    ]  # fmt: skip
    assert Answer.objects.filter(piece=sold).count() == answers == 1


def test_an_old_page_s_form_with_another_hour_says_that_the_visit_stands(
    client: Client, sent: Sent, boutique: Boutique
) -> None:
    """Back in the browser, and another hour on the page that has booked already."""
    form = str(uuid4())
    first = ask(client, sent, f"{FRIDAY}T10:00", form_key=form)
    visit = Visit.objects.get()
    assert first["Location"] == visit_address(sent, f"{visit.pk}/?thanks")
    second = ask(client, sent, f"{FRIDAY}T11:00", form_key=form)
    assert second["Location"] == visit_address(sent, f"{visit.pk}/?already")
    moved = {"boutique": "HARROW", "form_key": str(uuid4())}
    move = visit_address(sent, f"{visit.pk}/move/")
    for _press in range(2):
        assert client.post(move, moved | {"start": f"{FRIDAY}T11:00"})["Location"].endswith("?thanks")
    assert client.post(move, moved | {"start": f"{FRIDAY}T11:30"})["Location"].endswith("?already")
    assert Visit.objects.get().at == time(11)
    client.post(visit_address(sent, f"{visit.pk}/cancel/"), {"day": "2026-07-03", "form_key": str(uuid4())})
    assert ask(client, sent, f"{FRIDAY}T10:30", form_key=form)["Location"] == f"{sent.address}?unheard"
    assert Visit.objects.get().state == "cancelled"
