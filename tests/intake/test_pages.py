"""The counter's pages: finding, taking in, the list; who sees what."""

import logging
from datetime import date

import pytest
from django.core.cache import cache
from django.urls import reverse

from service_center.book.models import Piece
from service_center.intake import searches
from service_center.intake.models import Draft, DropOff
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory
from tests.intake.visits import book, keep_hours

pytestmark = pytest.mark.django_db

OWNER = "Zenobia Quillfeather"


@pytest.fixture(autouse=True)
def _nobody_has_searched_yet():
    cache.clear()


@pytest.fixture
def here():
    return BoutiqueFactory(code="HARROW", name="Harrowmere")


@pytest.fixture
def piece(here):
    return PieceFactory(serial="FH21-000123", boutique=here, owner=OwnerFactory(name=OWNER, phone="+44 20 7946 0999"))


@pytest.fixture
def counter(signed_in, here):
    return signed_in("boutique", here.code)


@pytest.fixture
def other_counter(signed_in):
    return signed_in("boutique", BoutiqueFactory(code="ELSE", name="Elsewhere").code)


def find(client, text):
    return client.get(reverse("intake:find"), {"q": text})


def address(piece, *, serial=""):
    return reverse("intake:drop_off", args=[piece.pk]) + (f"?serial={serial}" if serial else "")


@pytest.fixture
def started(counter, counter_of, piece):
    """The piece's drop-off, begun at the counter."""
    begun = counter_of(counter)
    begun.begin(piece)
    return begun


# finding


@pytest.mark.parametrize("typed", ["FH21-000123", "fh21 000123", "000123", "Quillfeather", "zenobia quill", "0999"])
def test_a_piece_is_found_by_serial_owner_or_telephone(counter, piece, typed):
    page = find(counter, typed).content.decode()
    assert address(piece) in page
    assert OWNER in page


@pytest.mark.parametrize("typed", ["000123", "Quillfeather", "0999", "FH21-0001"])
def test_another_boutique_finds_nothing_by_a_part_an_owner_or_a_telephone(other_counter, piece, typed):
    page = find(other_counter, typed).content.decode()
    assert "FH21-000123" not in page
    assert OWNER not in page


def test_another_boutique_finds_a_piece_by_its_whole_serial_without_its_owner(other_counter, piece):
    page = find(other_counter, "FH21-000123").content.decode()
    assert address(piece, serial="FH21-000123") in page
    assert OWNER not in page
    form_page = other_counter.get(address(piece, serial="FH21-000123"))
    assert form_page.status_code == 200
    assert OWNER not in form_page.content.decode()


def test_another_boutique_opens_no_piece_by_its_address_alone(other_counter, piece):
    assert other_counter.get(address(piece)).status_code == 404
    assert other_counter.get(address(piece, serial="FH21-000124")).status_code == 404
    assert other_counter.post(address(piece)).status_code == 404
    assert not Draft.objects.exists()


def test_another_boutique_can_take_in_a_piece_whose_serial_it_read(other_counter, counter_of, piece):
    begun = counter_of(other_counter)
    begun.begin(piece, serial="FH21-000123")
    begun.say_all()
    for step in ("story", "condition", "readings", "promise", "sign"):
        assert OWNER not in begun.see(step)
    done = begun.sign()
    assert DropOff.objects.get().boutique.code == "ELSE"
    assert OWNER in other_counter.get(done.headers["Location"]).content.decode()


@pytest.mark.parametrize("status", ["lost", "stolen"])
@pytest.mark.parametrize("role", ["boutique", "desk", "manager"])
def test_a_lost_or_stolen_piece_stops_at_the_counter_without_its_owner(signed_in, here, piece, role, status):
    Piece.objects.update(status=status)
    client = signed_in(role, here.code if role == "boutique" else "")
    found = find(client, "FH21-000123").content.decode()
    assert f"Reported {status}" in found
    stop = client.get(address(piece, serial="FH21-000123"))
    told = stop.content.decode()
    assert "Call the service desk at once" in told
    assert 'class="button">Take in' not in told
    for page in (found, told):
        assert OWNER not in page
        assert "0999" not in page
    refused = client.post(address(piece, serial="FH21-000123"))
    assert refused.status_code == 409
    assert OWNER not in refused.content.decode()
    assert not Draft.objects.exists()


def test_a_receipts_number_leads_to_what_was_taken_in(counter, take, piece, here):
    drop_off = take(piece, boutique=here)
    answer = find(counter, drop_off.number.lower())
    assert answer.headers["Location"] == reverse("intake:taken_in", args=[drop_off.pk])


def test_the_code_on_a_label_leads_to_what_was_taken_in(counter, other_counter, take, piece, here):
    drop_off = take(piece, boutique=here)
    assert find(counter, "FH21-000123").headers["Location"] == reverse("intake:taken_in", args=[drop_off.pk])
    assert "Here already" in find(other_counter, "FH21-000123").content.decode()


def test_nothing_known_says_what_to_do(counter):
    assert "Nothing is known by “&lt;b&gt;”" in find(counter, "<b>").content.decode()
    assert "at least two characters" in find(counter, "F").content.decode()


def test_searches_beyond_a_counters_pace_are_refused_for_that_person_alone(counter, other_counter, piece, caplog):
    for number in range(searches.A_MINUTE):
        assert find(counter, f"FH21-{number:06}").status_code == 200
    refused = find(counter, "FH21-000123")
    assert refused.status_code == 429
    assert "Wait a minute" in refused.content.decode()
    assert address(piece) not in refused.content.decode()
    assert counter.get(address(piece, serial="FH21-000123")).status_code == 429
    assert "counter search refused" in caplog.text
    assert find(other_counter, "FH21-000123").status_code == 200


def test_a_piece_of_another_boutique_that_was_found_is_written_into_the_log(other_counter, piece, caplog):
    with caplog.at_level(logging.INFO, logger="service_center.intake.searches"):
        find(other_counter, "FH21-000123")
    assert "boutique ELSE, found FH21-000123" in caplog.text


# who comes today


@pytest.fixture
def visit(piece, here):
    return book(keep_hours(here), piece, at="10:30")


def test_a_piece_that_is_booked_for_today_is_offered_first(signed_in, counter_of, here, piece, visit, time_machine):
    time_machine.move_to("2026-06-12T09:00:00Z", tick=False)
    PieceFactory(serial="FH21-000122", boutique=here)
    client = signed_in("boutique", here.code)
    first_page = client.get(reverse("intake:find")).content.decode()
    assert "Booked for today" in first_page
    assert "10:30" in first_page
    found = find(client, "FH21-00012").content.decode()
    assert found.index("FH21-000123") < found.index("FH21-000122")
    assert "booked for 10:30 today" in found
    begun = counter_of(client)
    begun.begin(piece)
    begun.say_all()
    begun.sign()
    visit.refresh_from_db()
    assert visit.state == "came"
    assert "Booked for today" not in client.get(reverse("intake:find")).content.decode()


def test_another_boutiques_visits_and_another_days_are_not_offered(signed_in, visit, time_machine):
    time_machine.move_to("2026-06-12T09:00:00Z", tick=False)
    stranger = signed_in("boutique", BoutiqueFactory(code="ELSE").code)
    assert "FH21-000123" not in stranger.get(reverse("intake:find")).content.decode()
    time_machine.move_to("2026-06-13T09:00:00Z", tick=False)
    assert "FH21-000123" not in signed_in("desk").get(reverse("intake:find")).content.decode()


# before it is taken in


def test_the_first_step_says_what_is_due_who_pays_and_what_to_take_care_of(started):
    page = started.see("story")
    assert "Counted from the sale on 17 May 2019" in page
    assert "The guarantee ended on 17 May 2021 and was not extended." in page
    assert "Your rights under the law stand beside this guarantee" in page
    assert "Local codes and licensed practice come first." in page


def test_a_piece_that_is_here_says_so_and_leads_to_its_drop_off(counter, take, piece, here):
    drop_off = take(piece, boutique=here)
    page = counter.get(address(piece)).content.decode()
    assert "has not been handed back" in page
    assert reverse("intake:taken_in", args=[drop_off.pk]) in page


def test_another_boutique_learns_that_a_piece_is_here_but_not_by_which_drop_off(other_counter, take, piece, here):
    drop_off = take(piece, boutique=here)
    page = other_counter.get(address(piece, serial="FH21-000123")).content.decode()
    assert "has not been handed back" in page
    assert drop_off.number not in page
    assert OWNER not in page


def test_opening_the_pages_writes_nothing(counter, piece):
    counter.get(address(piece))
    assert not Draft.objects.exists()
    piece.refresh_from_db()
    assert piece.place == "owner"


# afterwards


@pytest.mark.parametrize("page", ["taken_in", "receipt", "label"])
def test_another_boutiques_drop_off_and_receipt_are_not_found(other_counter, counter, take, piece, here, page):
    where = reverse(f"intake:{page}", args=[take(piece, boutique=here).pk])
    assert other_counter.get(where).status_code == 404
    assert counter.get(where).status_code == 200


@pytest.mark.parametrize("page", ["taken_in", "receipt", "label"])
@pytest.mark.parametrize(("role", "status"), [("desk", 200), ("manager", 200), ("watchmaker", 403), (None, 302)])
def test_the_desk_sees_every_drop_off_and_who_is_not_at_a_counter_none(
    signed_in, client, take, piece, here, page, role, status
):
    where = reverse(f"intake:{page}", args=[take(piece, boutique=here).pk])
    assert (signed_in(role) if role else client).get(where).status_code == status


def test_the_old_address_of_what_was_taken_in_leads_to_the_orders(counter, here):
    answer = counter.get(reverse("intake:drop_offs"), {"q": "fh30", "boutique": here.code, "before": "7"})
    assert (answer.status_code, answer["Location"]) == (302, f"/orders/?q=fh30&boutique={here.code}")


def test_the_day_of_a_drop_off_is_the_boutiques_own(signed_in, counter_of, time_machine):
    time_machine.move_to("2026-03-01T22:30:00Z", tick=False)
    tokyo = BoutiqueFactory(code="EAST", country="JP", time_zone="Asia/Tokyo")
    begun = counter_of(signed_in("boutique", "EAST"))
    begun.begin(PieceFactory(boutique=tokyo))
    begun.say_all()
    begun.sign()
    assert DropOff.objects.get().taken_on == date(2026, 3, 2)
