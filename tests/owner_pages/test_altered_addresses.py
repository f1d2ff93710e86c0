"""Nothing about others, however an address is altered; and a link that was withdrawn, or is pressed too often."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import cached_property
from typing import Any
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from service_center.access.models import Trail
from service_center.intake.actions import take_in
from service_center.intake.visits.actions import Wish, book
from service_center.intake.visits.models import OpeningHours
from service_center.letters.models import OwnerLink
from service_center.owner_pages import urls
from service_center.owner_pages.misses import DEEDS_A_MINUTE
from service_center.workshop.models import WorkOrder
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory
from tests.owner_pages.conftest import NOW, TODAY, make_link, open_pages, send_about, words_of
from tests.owner_pages.test_piece_papers import give_back, read
from tests.workshop.hands import Hands

pytestmark = pytest.mark.django_db
# Every address of the owner's side that stands behind a letter's page, and which of them names a thing.
BEHIND = [one for one in urls.urlpatterns if str(one.pattern).startswith("<str:token>/")]
NAMES_A_THING = [one for one in BEHIND if "<int:pk>" in str(one.pattern)]


class Household:
    """An owner with a piece that is brought, a visit and a link."""

    def __init__(self, mark: str) -> None:
        boutique = BoutiqueFactory(name=f"Boutique {mark}")
        OpeningHours.objects.create(boutique=boutique, weekday=4, opens="10:00", closes="12:00", places=2)
        self.piece = PieceFactory(owner=OwnerFactory(name=f"Owner {mark}"), boutique=boutique)
        self.sent = send_about(self.piece)
        wish = Wish(boutique, date(2026, 6, 12), datetime(2026, 6, 12, 10, 30, tzinfo=UTC).time())
        self.visit = book(self.sent.letter, [self.piece], wish, form_key=uuid4(), on=TODAY, now=NOW)
        self.drop_off = take_in(
            self.piece,
            form_key=uuid4(),
            boutique=boutique,
            by=StaffFactory(role="boutique", boutique=boutique.code),
            taken_on=TODAY,
            at=NOW,
            as_of=TODAY,
            asked=[],
            owner_says=f"Words of {mark}",
            left_with="",
            sitting=None,
        )

    @cached_property
    def estimate(self) -> int:
        """An estimate of the piece's order."""
        hands = Hands(WorkOrder.objects.get(number=self.drop_off.number), StaffFactory(), TODAY)
        hands.to("received", "diagnosed", asks=True)
        return hands.estimate().pk

    def thing(self, pattern: URLPattern) -> int:
        path = str(pattern.pattern)
        if "/visit/" in path:
            return int(self.visit.pk)
        if "/estimate/" in path:
            return self.estimate
        return int(self.drop_off.pk if "/receipt/" in path or "/report/" in path else self.piece.pk)


@pytest.fixture
def mine() -> Household:
    return Household("mine")


@pytest.fixture
def other() -> Household:
    return Household("other")


def address(pattern: URLPattern, token: str, pk: int = 0) -> str:
    path = str(pattern.pattern).replace("<str:token>", token)
    return "/o/" + path.replace("<int:pk>", str(pk)).replace("<slug:key>", str(pk))


def test_the_walk_below_goes_everywhere() -> None:
    assert len(BEHIND) == len(urls.urlpatterns) - 2  # stopping letters and confirming an address stand beside
    assert len(NAMES_A_THING) >= 7


@pytest.mark.parametrize("pattern", NAMES_A_THING, ids=lambda one: str(one.name))
def test_another_owner_s_thing_is_not_there_behind_my_link(
    client: Client, mine: Household, other: Household, pattern: URLPattern
) -> None:
    if pattern.name == "report":  # there is one once the stay is over
        for household in (mine, other):
            read(household.piece, TODAY)
            give_back(household.piece, TODAY)
    open_pages(client, mine.sent)
    own = client.get(address(pattern, mine.sent.page, mine.thing(pattern)))
    assert own.status_code in {200, 302}
    for pk in (other.thing(pattern), 0, 987_654_321):
        for deed in (client.get, client.post):
            found = deed(address(pattern, mine.sent.page, pk))
            assert found.status_code in {404, 405, 302}, pk  # a redirect leads back to the own letter
            assert "other" not in found.content.decode()
            if found.status_code == 302:
                assert mine.sent.page in found["Location"]


@pytest.mark.parametrize("pattern", BEHIND, ids=lambda one: str(one.name))
def test_a_secret_of_another_purpose_or_letter_opens_nothing_here(
    client: Client, mine: Household, other: Household, pattern: URLPattern
) -> None:
    cache.clear()
    answers = [
        client.get(address(pattern, token, mine.thing(pattern)))
        for token in (mine.sent.stop, mine.sent.page[:-1], mine.sent.page + "x", mine.sent.page.upper())
    ]
    assert {one.status_code for one in answers} == {404}
    assert len({one.content for one in answers}) == 1
    if pattern in NAMES_A_THING:  # their good secret, and my thing
        open_pages(client, other.sent)
        found = client.get(address(pattern, other.sent.page, mine.thing(pattern)))
        assert found.status_code in {404, 302}


@pytest.mark.parametrize("pattern", BEHIND, ids=lambda one: str(one.name))
def test_what_is_behind_a_link_is_told_to_no_other_site_and_kept_by_no_browser(
    client: Client, mine: Household, pattern: URLPattern
) -> None:
    open_pages(client, mine.sent)
    for pk in (mine.thing(pattern), 987_654_321):
        found = client.get(address(pattern, mine.sent.page, pk))
        assert found["Referrer-Policy"] == "no-referrer"
        assert "no-store" in found["Cache-Control"]
        assert "noindex" in found["X-Robots-Tag"]


@hypothesis_settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_altered_secret_opens_anything(client: Client, mine: Household, data: Any) -> None:
    """Cut, doubled, with letters exchanged or put in, in other scripts: 404, and never an error."""
    cache.clear()
    secret = mine.sent.page
    letters = st.characters(exclude_characters="/?#\\\r\n\t", exclude_categories=["Cs", "Cc"])
    altered = data.draw(
        st.one_of(
            st.integers(0, len(secret) - 1).map(lambda cut: secret[:cut] or "x"),
            st.tuples(st.integers(0, len(secret)), st.text(letters, min_size=1, max_size=5)).map(
                lambda put: secret[: put[0]] + put[1] + secret[put[0] :]
            ),
            st.text(letters, min_size=1, max_size=80).filter(lambda text: text not in {secret, ".", ".."}),
        )
    )
    for found in (client.get("/o/" + altered + "/"), client.get(f"/o/{altered}/details/")):
        assert found.status_code == 404
        assert mine.piece.serial not in found.content.decode()


def test_an_unknown_secret_costs_what_one_that_is_over_costs(client: Client, mine: Household) -> None:
    """One statement by the index of the hashes, whichever it is: the time tells nothing."""
    OwnerLink.objects.filter(letter=mine.sent.letter, purpose="page").update(withdrawn_at=NOW)
    make_link(mine.sent.letter, "page", "expired-secret", expires_at=NOW)
    asked = []
    for token in ("never-was", "expired-secret", mine.sent.page):
        with CaptureQueriesContext(connection) as statements:
            client.get(f"/o/{token}/")
        asked.append([one["sql"].split("WHERE")[0] for one in statements])
    assert asked[0] == asked[1] == asked[2]
    assert len(asked[0]) == 1


# --- more than the letter says needs a button ----------------------------------------------------------------


@pytest.mark.parametrize("name", ["piece", "receipt", "details", "data"])
def test_a_scanner_that_only_looks_sees_no_more_than_the_letter_says(
    client: Client, mine: Household, name: str
) -> None:
    pattern = next(one for one in BEHIND if one.name == name)
    where = address(pattern, mine.sent.page, mine.thing(pattern))
    text = words_of(client, where)
    assert "Open this page" in text
    for hidden in (mine.piece.owner.email, mine.piece.owner.phone, mine.drop_off.number):
        assert hidden not in text
    opened = client.post(where, {"open": "yes"})
    assert (opened.status_code, opened["Location"]) == (302, where)
    cookie = opened.cookies["opened"]
    assert cookie["httponly"]
    assert cookie["path"] == mine.sent.address
    assert mine.sent.page not in cookie.value
    assert client.get(where).status_code == 200
    assert "Open this page" not in client.get(where).content.decode(errors="replace")


def test_the_cookie_of_one_link_opens_no_other(client: Client, mine: Household, other: Household) -> None:
    open_pages(client, mine.sent)
    value = client.cookies["opened"].value
    client.cookies.clear()
    client.cookies["opened"] = value
    assert "Open this page" in words_of(client, f"{other.sent.address}details/")
    assert "Open this page" not in words_of(client, f"{mine.sent.address}details/")


# --- withdrawn, and pressed too often ------------------------------------------------------------------------


def test_the_desk_withdraws_a_letter_s_links_and_all_of_them_open_nothing(
    client: Client, mine: Household, other: Household, signed_in: Callable[..., Client]
) -> None:
    desk = signed_in("desk")
    where = f"/letters/{mine.sent.letter.pk}/"
    assert "Withdraw its links" in words_of(desk, where)
    assert desk.post(f"{where}links/").status_code == 302
    assert desk.post(f"{where}links/").status_code == 302
    assert client.get(mine.sent.address).status_code == 404
    assert client.get(mine.sent.stop_address).status_code == 404
    assert client.get(other.sent.address).status_code == 200
    assert Trail.objects.get(deed="links_withdrawn").after == {"links": 2}
    text = words_of(desk, where)
    assert "Its links open nothing any more." in text
    assert "links withdrawn" in text


def test_buttons_pressed_faster_than_a_person_can_do_nothing_more(client: Client, mine: Household) -> None:
    for _number in range(DEEDS_A_MINUTE):
        assert client.post(f"{mine.sent.address}details/email/").status_code == 302
    refused = client.post(f"{mine.sent.address}details/email/")
    assert refused.status_code == 429
    assert refused["Retry-After"] == "60"
    assert "Nothing was written down this time" in refused.content.decode()
    assert client.get(mine.sent.address).status_code == 200  # a look is free
    assert client.post(mine.sent.stop_address, {"List-Unsubscribe": "One-Click"}).status_code == 200


def test_guessing_at_things_behind_a_good_link_is_counted_too(client: Client, mine: Household) -> None:
    open_pages(client, mine.sent)
    found = [client.get(f"{mine.sent.address}watch/{number}/").status_code for number in range(900_000, 900_021)]
    assert found == [404] * 20 + [429]
