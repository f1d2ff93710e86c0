"""The boutique's day of visits, and when it receives owners."""

import re
from collections.abc import Callable, Iterator
from datetime import date, time

import pytest
import time_machine
from django.test import Client

from service_center.access.models import Trail
from service_center.book.models import Boutique
from service_center.intake.models import DropOff
from service_center.intake.visits import queries
from service_center.intake.visits.actions import UnknownRegionError, set_region
from service_center.intake.visits.models import Closure, OpeningHours, Visit
from service_center.letters.models import Answer
from service_center.workshop.calendars.actions import add_holiday, keep_place
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory
from tests.intake.visits import FRIDAY, NOW, book, keep_hours

pytestmark = pytest.mark.django_db

VISITS, HOURS = "/counter/visits/", "/counter/opening-hours/"


@pytest.fixture(autouse=True)
def _the_day() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def boutique() -> Boutique:
    return keep_hours(BoutiqueFactory(code="HARROW", name="Harrowmere"))


@pytest.fixture
def counter(signed_in: Callable[..., Client], boutique: Boutique) -> Client:
    return signed_in("boutique", boutique.code)


@pytest.fixture
def desk(signed_in: Callable[..., Client]) -> Client:
    return signed_in("desk")


def page(client: Client, address: str) -> str:
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def week_of(html: str) -> dict[str, str]:
    """The week's form as the browser would send it."""
    fields = re.findall(r'<input[^>]*name="([^"]+)"[^>]*>', html)
    values = {}
    for name in fields:
        tag = re.search(rf'<input[^>]*name="{name}"[^>]*>', html)
        assert tag
        value = re.search(r'value="([^"]*)"', tag.group())
        if name == "seen" or name[-1].isdigit():
            values[name] = value.group(1) if value else ""
    return values | {"deed": "week", "boutique": "HARROW"}


# The day


def test_the_counter_sees_who_comes_when_with_what_and_in_which_language(counter: Client, boutique: Boutique) -> None:
    owner = OwnerFactory(name="Marta Lindqvist", language="de", phone="+44 20 7946 0999")
    book(boutique, PieceFactory(serial="FH21-000042", owner=owner), at="10:30")
    html = page(counter, f"{VISITS}?day={FRIDAY}")
    for word in ("Friday, 12 June 2026", "10:30", "Marta Lindqvist", "+44 20 7946 0999", "German", "FH21-000042"):
        assert word in html
    assert "Nobody has booked a visit for today." in page(counter, VISITS)
    assert "Fri 12 Jun" in page(counter, VISITS)  # the next two weeks


def test_from_a_visit_straight_to_taking_the_piece_in_even_one_that_another_boutique_sold(
    signed_in: Callable[..., Client], boutique: Boutique, take: Callable[..., DropOff]
) -> None:
    piece = PieceFactory(serial="FH21-000042", boutique=BoutiqueFactory())
    book(boutique, piece)
    with time_machine.travel("2026-06-12T08:50:00Z", tick=False):
        counter = signed_in("boutique", boutique.code)
        [way] = re.findall(r'href="(/counter/take-in/[^"]+)"', page(counter, VISITS))
        assert '<button class="button">Take in</button>' in page(counter, way)
        drop_off = take(piece, boutique=boutique, taken_on=FRIDAY)
        html = page(counter, VISITS)
    assert drop_off.number in html
    assert "/counter/take-in/" not in html


def test_the_boutique_says_who_came_and_who_did_not(signed_in: Callable[..., Client], boutique: Boutique) -> None:
    one, other = book(boutique), book(boutique, at="11:00")
    with time_machine.travel("2026-06-12T11:00:00Z", tick=False):
        counter = signed_in("boutique", boutique.code)
        counter.post(f"{VISITS}{one.pk}/", {"what": "came"})
        response = counter.post(f"{VISITS}{other.pk}/", {"what": "did_not_come"}, follow=True)
    assert response.redirect_chain == [(f"{VISITS}?boutique=HARROW&day=2026-06-12", 302)]
    assert list(Visit.objects.order_by("at").values_list("state", flat=True)) == ["came", "did_not_come"]


def test_before_the_day_nobody_came_but_an_owner_may_have_telephoned(counter: Client, boutique: Boutique) -> None:
    visit = book(boutique)
    refused = counter.post(f"{VISITS}{visit.pk}/", {"what": "came"}, follow=True)
    assert "This cannot be said of the visit any more, or not yet." in refused.content.decode()
    assert counter.post(f"{VISITS}{visit.pk}/", {"what": "forgotten"}).status_code == 404
    counter.post(f"{VISITS}{visit.pk}/", {"what": "cancelled"})
    visit.refresh_from_db()
    answer = Answer.objects.latest("pk")
    assert visit.state == "cancelled"
    assert (answer.choice, answer.day) == ("not_now", date(2026, 7, 3))
    assert answer.recorded_by == Trail.objects.get(deed="cancel_visit").by


def test_another_boutiques_visits_are_not_there(signed_in: Callable[..., Client], boutique: Boutique) -> None:
    visit = book(boutique, PieceFactory(serial="FH21-000042"))
    stranger = signed_in("boutique", keep_hours(BoutiqueFactory(code="SALTBY")).code)
    assert stranger.get(f"{VISITS}?boutique=HARROW&day={FRIDAY}").status_code == 404
    assert "FH21-000042" not in page(stranger, f"{VISITS}?day={FRIDAY}")
    assert stranger.post(f"{VISITS}{visit.pk}/", {"what": "cancelled"}).status_code == 404
    visit.refresh_from_db()
    assert visit.state == "booked"


def test_the_desk_sees_every_boutique_and_a_house_without_one_is_told(
    desk: Client, boutique: Boutique, signed_in: Callable[..., Client]
) -> None:
    book(boutique, PieceFactory(serial="FH21-000042"))
    keep_hours(BoutiqueFactory(code="SALTBY", name="Aldwick"))
    assert "FH21-000042" in page(desk, f"{VISITS}?boutique=HARROW&day={FRIDAY}")
    assert "FH21-000042" not in page(desk, f"{VISITS}?boutique=SALTBY&day={FRIDAY}")


@pytest.mark.parametrize("address", [VISITS, HOURS])
def test_a_house_without_a_boutique_is_told_so(signed_in: Callable[..., Client], address: str) -> None:
    assert "The book holds no boutique yet." in page(signed_in("desk"), address)


@pytest.mark.parametrize("asked", ["day=yesterday", "day=", "day=2026-02-30", "day=9999-12-31", "day=0001-01-01"])
def test_a_day_that_is_none_shows_a_page_all_the_same(desk: Client, boutique: Boutique, asked: str) -> None:
    assert desk.get(f"{VISITS}?{asked}").status_code == 200


# When the boutique receives


def test_the_desk_changes_the_week_and_it_stays_written_down_what_it_was(desk: Client, boutique: Boutique) -> None:
    sent = week_of(page(desk, HOURS)) | {"opens-5-0": "10:00", "closes-5-0": "13:00", "places-5-0": "3"}
    sent |= {"opens-0-0": "", "closes-0-0": "", "places-0-0": "", "opens-1-1": "14:00", "closes-1-1": "18:00"}
    response = desk.post(HOURS, sent | {"places-1-1": "2"})
    assert response["Location"] == f"{HOURS}?boutique=HARROW"
    kept = set(OpeningHours.objects.values_list("weekday", "opens", "closes", "places"))
    assert (5, time(10), time(13), 3) in kept
    assert (1, time(14), time(18), 2) in kept
    assert not any(row[0] == 0 for row in kept)
    trail = Trail.objects.get(deed="opening_hours")
    assert trail.subject == "boutique:HARROW"
    assert {"weekday": 0, "opens": "10:00", "closes": "12:00", "places": 1} in trail.before
    assert {"weekday": 5, "opens": "10:00", "closes": "13:00", "places": 3} in trail.after


def test_keeping_the_week_as_it_is_changes_nothing(desk: Client, boutique: Boutique) -> None:
    before = list(OpeningHours.objects.order_by("pk").values_list())
    desk.post(HOURS, week_of(page(desk, HOURS)))
    assert list(OpeningHours.objects.order_by("pk").values_list()) == before
    assert not Trail.objects.exists()


def test_of_two_who_change_the_week_at_once_the_second_is_told(desk: Client, boutique: Boutique) -> None:
    stale = week_of(page(desk, HOURS))
    desk.post(HOURS, stale | {"closes-0-0": "13:00"})
    response = desk.post(HOURS, stale | {"closes-0-0": "14:00"})
    assert response.status_code == 422
    assert "Somebody else changed these hours meanwhile." in response.content.decode()
    assert 'value="14:00"' in response.content.decode()
    assert OpeningHours.objects.get(weekday=0).closes == time(13)


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"closes-0-0": "09:00"}, "It must close after it opens."),
        ({"closes-0-0": ""}, "Fill in from, to and places, or none of them."),
        (
            {"opens-0-1": "11:59", "closes-0-1": "13:00", "places-0-1": "1"},
            "This overlaps with other hours of the day.",
        ),
        ({"places-0-0": "0"}, "greater than or equal to 1"),
        ({"opens-0-0": "noon"}, "Enter a valid time."),
    ],
)
def test_hours_that_cannot_be_are_refused_with_the_reason_and_nothing_is_lost(
    desk: Client, boutique: Boutique, fields: dict[str, str], reason: str
) -> None:
    response = desk.post(HOURS, week_of(page(desk, HOURS)) | fields)
    assert response.status_code == 422
    assert reason in response.content.decode()
    assert OpeningHours.objects.get(weekday=0).closes == time(12)
    assert not Trail.objects.exists()


def test_days_are_closed_with_a_word_about_the_visits_on_them_and_opened_after_all(
    desk: Client, boutique: Boutique
) -> None:
    book(boutique, PieceFactory(owner=OwnerFactory(name="Marta Lindqvist", phone="+44 20 7946 0999")))
    close = {"deed": "close", "boutique": "HARROW", "first_day": "2026-06-11", "last_day": "2026-06-12"}
    html = desk.post(HOURS, close | {"reason": "Stocktaking"}, follow=True).content.decode()
    assert "1 visit is booked for a time when the boutique is closed." in html
    assert "Marta Lindqvist" in html
    assert "+44 20 7946 0999" in html
    assert Visit.objects.get().state == "booked"  # nobody is sent away by a form
    assert queries.free_days(boutique, FRIDAY, FRIDAY) == []
    desk.post(HOURS, close)
    assert Closure.objects.count() == 1
    desk.post(HOURS, {"deed": "reopen", "boutique": "HARROW", "closure": str(Closure.objects.get().pk)})
    assert queries.free_days(boutique, FRIDAY, FRIDAY) != []
    assert list(Trail.objects.order_by("pk").values_list("deed", flat=True)) == ["close_days", "reopen_days"]


def test_a_closure_ends_no_earlier_than_it_begins(desk: Client, boutique: Boutique) -> None:
    close = {"deed": "close", "boutique": "HARROW", "first_day": "2026-06-12", "last_day": "2026-06-11"}
    response = desk.post(HOURS, close)
    assert response.status_code == 422
    assert "The last day comes before the first." in response.content.decode()
    assert 'value="2026-06-12"' in response.content.decode()
    assert not Closure.objects.exists()


def test_a_boutique_can_open_on_a_public_holiday_and_close_on_it_after_all(desk: Client, boutique: Boutique) -> None:
    assert "Christmas Day" in page(desk, HOURS)
    christmas = date(2026, 12, 25)
    holiday = {"deed": "holiday", "boutique": "HARROW", "day": "2026-12-25"}
    desk.post(HOURS, holiday | {"opens": "yes"})
    assert queries.free_days(boutique, christmas, christmas) != []
    desk.post(HOURS, holiday | {"opens": "no"})
    assert queries.free_days(boutique, christmas, christmas) == []
    assert Trail.objects.filter(deed="open_on_holiday").count() == 2


def test_a_boutique_is_closed_on_its_regions_public_holidays(desk: Client, boutique: Boutique) -> None:
    andrews = date(2026, 11, 30)
    assert queries.free_days(boutique, andrews, andrews) != []
    desk.post(HOURS, {"deed": "region", "boutique": "HARROW", "region": "SCT"})
    assert queries.free_days(boutique, andrews, andrews) == []
    assert '<option value="SCT" selected>Scotland</option>' in page(desk, HOURS)
    desk.post(HOURS, {"deed": "region", "boutique": "HARROW", "region": ""})
    assert queries.free_days(boutique, andrews, andrews) != []
    assert Trail.objects.filter(deed="set_region").count() == 2


def test_a_boutique_where_the_workshop_stands_is_closed_on_the_houses_own_holidays(
    desk: Client, boutique: Boutique
) -> None:
    keep_place(country="GB", subdivision="SCT", time_zone="Europe/London", as_of=FRIDAY, by=None)
    jubilee = date(2026, 11, 23)  # a Monday
    add_holiday(jubilee, "The house's jubilee", by=None)
    assert queries.free_days(boutique, jubilee, jubilee) != [], "not in the workshop's region"
    desk.post(HOURS, {"deed": "region", "boutique": "HARROW", "region": "SCT"})
    assert queries.free_days(boutique, jubilee, jubilee) == []
    shown = page(desk, HOURS)
    assert "jubilee" in shown
    assert "both go by the house's own list" in shown.replace("&#x27;", "'")


def test_a_region_that_the_country_does_not_have_is_refused_by_name(desk: Client, boutique: Boutique) -> None:
    desk.post(HOURS, {"deed": "region", "boutique": "HARROW", "region": "SCT"})
    answer = desk.post(HOURS, {"deed": "region", "boutique": "HARROW", "region": "BY"})
    assert answer.status_code == 422
    assert "“BY” is no region of this country." in answer.content.decode()
    assert queries.opening_of(boutique, FRIDAY, FRIDAY).region == "SCT"
    with pytest.raises(UnknownRegionError):
        set_region(boutique, "BY", by=None)


@pytest.mark.parametrize(
    "sent",
    [
        {},
        {"deed": "burn"},
        {"deed": "reopen", "closure": "x"},
        {"deed": "holiday", "day": "x"},
        {"deed": "week", "boutique": "NOWHERE"},
    ],
)
def test_what_the_page_does_not_offer_is_not_there(desk: Client, boutique: Boutique, sent: dict[str, str]) -> None:
    assert desk.post(HOURS, {"boutique": "HARROW"} | sent).status_code == 404
    assert not Trail.objects.exists()
