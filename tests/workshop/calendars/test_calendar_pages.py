"""The desk's pages of benches, and a watchmaker's own weeks."""

from collections.abc import Callable, Iterator
from datetime import date

import pytest
import time_machine
from django.test import Client

from service_center.workshop.calendars.actions import add_absence, add_watchmaker
from service_center.workshop.calendars.models import Absence, PublicHoliday, Watchmaker, WorkshopClosure
from service_center.workshop.calendars.queries import hours_by_week_and_skill
from service_center.workshop.calendars.rules import AbsenceKind
from tests.factories import StaffFactory

pytestmark = pytest.mark.django_db

BENCHES, ADD, MINE, STILL = (
    "/workshop/benches/",
    "/workshop/benches/add/",
    "/workshop/benches/mine/",
    "/workshop/closed/",
)
MONDAY = date(2026, 11, 30)
EIGHT_HOURS = {f"weekday_{weekday}": "8" for weekday in range(5)}


@pytest.fixture(autouse=True)
def _the_day() -> Iterator[None]:
    with time_machine.travel("2026-11-30 09:00:00+00:00", tick=False):
        yield


@pytest.fixture
def desk(signed_in: Callable[..., Client]) -> Client:
    return signed_in("desk")


@pytest.fixture
def ada(db: None) -> Watchmaker:
    return add_watchmaker(
        name="Ada Ashwick", first_day=date(2020, 1, 6), last_day=None, account=None, minutes=[480] * 5 + [0, 0],
        skills={"simple": None, "chronograph": None}, by=None,
    )  # fmt: skip


def page(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def send(client: Client, address: str, **said: str) -> tuple[int, str]:
    """What the page says, and under which number, redirects followed."""
    answer = client.post(address, said, follow=True)
    return answer.status_code, answer.content.decode()


def test_a_house_without_benches_is_told_where_its_hours_come_from(desk: Client) -> None:
    assert "skills.csv" in page(desk, BENCHES)


def test_the_leanest_week_is_said_first(desk: Client, ada: Watchmaker) -> None:
    add_absence(ada, date(2026, 12, 14), date(2026, 12, 16), AbsenceKind.LEAVE, by=None)

    assert "The leanest week is W51, from 14 Dec: 16 of 40 hours." in page(desk, BENCHES)


def test_a_watchmaker_is_added_with_week_and_skills(desk: Client) -> None:
    skills = {"may_automatic": "on", "share_automatic": "75", "may_simple": "on", "share_simple": "25"}
    status, html = send(desk, ADD, name="Nell Fenby", first_day="2026-11-30", **EIGHT_HOURS, **skills)

    assert status == 200
    assert "Nell Fenby has a bench." in html
    assert hours_by_week_and_skill(MONDAY, 1) == {"simple": [10], "automatic": [30]}


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ({"weekday_0": "24.5"}, "A day has 24 hours at most."),
        ({"last_day": "2026-11-01"}, "The last day comes before the first."),
        ({"may_simple": "on", "may_automatic": "on", "share_simple": "40"}, "Write a share for every skill"),
        ({"may_simple": "on", "share_simple": "40"}, "The shares come to 40"),
        ({"share_simple": "40"}, "Tick the skill"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_nothing_typed_is_lost(
    desk: Client, said: dict[str, str], reason: str
) -> None:
    status, html = send(desk, ADD, **({"name": "Nell Fenby", "first_day": "2026-11-30"} | EIGHT_HOURS | said))

    assert status == 422
    assert reason in html
    assert 'value="Nell Fenby"' in html
    assert not Watchmaker.objects.exists()


def test_an_absence_is_written_and_taken_back(desk: Client, ada: Watchmaker) -> None:
    address = f"{BENCHES}{ada.pk}/"
    status, html = send(desk, address, deed="absence", first_day="2026-12-14", last_day="", kind="leave")
    assert (status, "Mon 14 Dec 2026" in html) == (200, True)
    status, html = send(desk, address, deed="absence", first_day="2026-12-13", last_day="2026-12-15", kind="away")
    assert status == 422
    assert "is away from 14 Dec 2026 to 14 Dec 2026 already" in html

    send(desk, address, deed="back", absence=str(Absence.objects.get().pk))
    assert not Absence.objects.exists()


def test_another_week_and_other_skills_hold_from_the_day_that_was_typed(desk: Client, ada: Watchmaker) -> None:
    address = f"{BENCHES}{ada.pk}/"
    assert send(desk, address, deed="week", since="2026-12-07", weekday_0="4")[0] == 200
    assert send(desk, address, deed="skills", since="2026-12-14", may_chronograph="on")[0] == 200
    assert send(desk, address, deed="week", since="2026-11-29", weekday_0="4")[0] == 422

    assert hours_by_week_and_skill(MONDAY, 3) == {"simple": [20, 2, 0], "chronograph": [20, 2, 4]}


def test_the_workshop_is_closed_and_its_holidays_are_kept_and_corrected(desk: Client) -> None:
    status, _html = send(desk, STILL, deed="place", country="ch", subdivision="ne", time_zone="Europe/Zurich")
    assert status == 200
    send(desk, STILL, deed="close", first_day="2026-12-28", last_day="2026-12-31", reason="Between the years")
    assert WorkshopClosure.objects.count() == 1
    assert "25 Dec 2026" in page(desk, STILL)
    send(desk, f"{STILL}?year=2026", deed="work", day="2026-12-25", works="yes")
    send(desk, STILL, deed="holiday", day="2026-12-07", name="Day of the guild")
    assert PublicHoliday.objects.get(day=date(2026, 12, 25)).worked
    assert PublicHoliday.objects.get(day=date(2026, 12, 7)).by_house
    status, html = send(desk, f"{STILL}?year=2034", deed="copy")
    assert PublicHoliday.objects.filter(day__year=2034).exists()
    status, html = send(desk, STILL, deed="place", country="XX", time_zone="Europe/Zurich")
    assert (status, "No public holidays are known" in html) == (422, True)


@pytest.mark.parametrize("deed", ["", "nothing", "back"])
def test_a_deed_that_does_not_exist_is_not_done(desk: Client, ada: Watchmaker, deed: str) -> None:
    assert desk.post(f"{BENCHES}{ada.pk}/", {"deed": deed}).status_code == 404


def test_a_watchmaker_sees_their_own_weeks_and_nobody_elses(ada: Watchmaker) -> None:
    account = StaffFactory(role="watchmaker")
    nell = add_watchmaker(
        name="Nell Fenby", first_day=MONDAY, last_day=None, account=account, minutes=[240] * 7,
        skills={"automatic": None}, by=None,
    )  # fmt: skip
    add_absence(nell, date(2026, 12, 14), date(2026, 12, 16), AbsenceKind.TRAINING, by=None)
    client = Client()
    client.force_login(account)

    html = page(client, MINE)
    assert "Training" in html
    assert "Ada Ashwick" not in html
    assert 'href="/workshop/benches/mine/"' in html
    assert client.get(f"{BENCHES}{ada.pk}/").status_code == 403


def test_a_watchmaker_without_a_bench_is_told_whom_to_ask(signed_in: Callable[..., Client]) -> None:
    assert "No bench is bound to your account" in page(signed_in("watchmaker"), MINE)


def test_my_weeks_is_a_place_of_watchmakers_alone(desk: Client) -> None:
    assert 'href="/workshop/benches/mine/"' not in page(desk, BENCHES)
