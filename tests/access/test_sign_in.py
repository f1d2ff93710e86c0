"""The way in: by name and password, slowly for those who guess, and for nobody the house did not let in."""

from collections.abc import Iterator

import pytest
from django.core.cache import cache
from django.test import Client
from django.test.client import Client as Browser

from service_center.access.actions import make_staff
from service_center.access.models import Staff
from service_center.access.rules import Role

pytestmark = pytest.mark.django_db

PASSWORD = "moss-lantern-gasket"


@pytest.fixture(autouse=True)
def _no_tries_yet() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def tove() -> Staff:
    return make_staff(username="tove", password=PASSWORD, role=Role.DESK, name="Tove Lindqvist")


def sign_in(client: Client, password: str = PASSWORD, address: str = "/sign-in/") -> int:
    return client.post(address, {"login": "tove", "password": password}).status_code


def test_the_right_password_opens_today(client: Client, tove: Staff) -> None:
    response = client.post("/sign-in/", {"login": "tove", "password": PASSWORD})
    assert response["Location"] == "/"
    assert client.get("/search/").context["user"] == tove


def test_a_page_asked_for_before_signing_in_comes_after_it(client: Client, tove: Staff) -> None:
    first = client.get("/search/?q=4711")
    response = client.post(first["Location"], {"login": "tove", "password": PASSWORD})
    assert response["Location"] == "/search/?q=4711"


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_signing_in_leads_nowhere_else(client: Client, tove: Staff, elsewhere: str) -> None:
    response = client.post("/sign-in/", {"login": "tove", "password": PASSWORD, "next": elsewhere})
    assert response["Location"] == "/"


def test_a_wrong_name_and_a_wrong_password_look_alike(client: Client, tove: Staff) -> None:
    said = []
    for login in ("tove", "nobody"):
        form = client.post("/sign-in/", {"login": login, "password": "not-the-password"}).context["form"]
        said.append([str(error) for error in form.non_field_errors()])
    assert said[0] == said[1]
    assert said[0]


def test_guessing_is_stopped_even_when_the_guess_is_right_at_last(client: Client, tove: Staff) -> None:
    for number in range(5):
        assert sign_in(client, f"guess-number-{number}") == 200
    sign_in(client)
    assert client.get("/search/").status_code == 302, "still outside"


def test_a_network_that_hammers_the_door_is_told_to_wait(client: Client, tove: Staff) -> None:
    answers = [client.post("/sign-in/", {"login": f"nobody-{n}", "password": "x"}) for n in range(35)]
    assert answers[-1].status_code == 429
    assert "Wait a minute" in answers[-1].content.decode()


def test_nobody_signs_up_by_themselves(client: Client) -> None:
    sent = {"username": "me", "password1": PASSWORD, "password2": PASSWORD}
    for response in (client.get("/sign-up/"), client.post("/sign-up/", sent)):
        assert "The house makes the accounts" in response.content.decode()
    assert not Staff.objects.exists()


def test_a_closed_account_stays_outside(client: Client, tove: Staff) -> None:
    sign_in(client)
    assert client.get("/search/").status_code == 200
    Staff.objects.update(is_active=False)
    assert client.get("/search/").status_code == 302
    sign_in(client)
    assert client.get("/search/").status_code == 302


def test_signing_out_takes_a_button_not_a_link(client: Client, tove: Staff) -> None:
    sign_in(client)
    assert "Sign out?" in client.get("/sign-out/").content.decode()
    assert client.get("/search/").status_code == 200
    client.post("/sign-out/")
    assert client.get("/search/").status_code == 302


def test_a_form_from_another_site_is_refused(tove: Staff) -> None:
    browser = Browser(enforce_csrf_checks=True)
    response = browser.post("/sign-in/", {"login": "tove", "password": PASSWORD})
    assert response.status_code == 403
    assert "Please send it once more" in response.content.decode()


@pytest.mark.parametrize(("new", "said"), [("short-fern", "at least 12 characters"), ("password12345", "too common")])
def test_a_weak_password_is_refused_with_its_reason(client: Client, tove: Staff, new: str, said: str) -> None:
    sign_in(client)
    response = client.post("/password/", {"oldpassword": PASSWORD, "password1": new, "password2": new})
    assert said in response.content.decode()
    tove.refresh_from_db()
    assert tove.check_password(PASSWORD)


def test_a_new_password_takes_the_place_of_the_old(client: Client, tove: Staff) -> None:
    sign_in(client)
    new = "harbour-fern-escapement"
    client.post("/password/", {"oldpassword": PASSWORD, "password1": new, "password2": new})
    tove.refresh_from_db()
    assert tove.check_password(new)
    assert tove.password.startswith("argon2")
