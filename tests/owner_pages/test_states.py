"""Whatever an owner meets behind a link says in plain words what happened and what comes next."""

import re
from datetime import datetime, time, timedelta

import pytest
import time_machine
from django.test import Client

from service_center.book.models import Boutique, Piece
from service_center.intake.visits.models import OpeningHours, Visit
from service_center.letters.models import OwnerLink
from tests.factories import history
from tests.owner_pages.conftest import NOW, Sent, make_link, open_pages, words_of
from tests.owner_pages.test_visits import FRIDAY, booked, text_of, visit_address

pytestmark = pytest.mark.django_db
AFTER_THE_VISIT = datetime.fromisoformat(f"{FRIDAY}T15:00+00:00")


@pytest.fixture
def boutique(piece: Piece) -> Boutique:
    """Harrowmere receives from ten to twelve on Fridays."""
    assert piece.boutique
    OpeningHours.objects.create(boutique=piece.boutique, weekday=4, opens=time(10), closes=time(12), places=1)
    return piece.boutique


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ("booked", "It was booked at Harrowmere for Friday, 12 June 2026, 10:00."),
        ("came", "You came to Harrowmere on Friday, 12 June 2026, 10:00."),
        ("did_not_come", "We expected you at Harrowmere on Friday, 12 June 2026, 10:00, and did not meet you."),
    ],
)
def test_a_visit_that_is_over_is_told_as_over(
    client: Client, sent: Sent, boutique: Boutique, state: str, said: str
) -> None:
    visit = booked(client, sent)
    Visit.objects.filter(pk=visit.pk).update(state=state)
    with time_machine.travel(AFTER_THE_VISIT, tick=False):
        text = words_of(client, visit_address(sent, f"{visit.pk}/"))
        assert said in text
        assert "You come to" not in text
        assert "Add it to my calendar" not in text
        assert ("you can book another visit on the page of the letter" in text) is (state != "came")
    with time_machine.travel(AFTER_THE_VISIT + timedelta(days=1), tick=False):
        assert "You were going to bring it to Harrowmere on 12 June 2026." in words_of(client, sent.address)


def test_a_visit_that_has_begun_is_not_cancelled_any_more_and_says_so(
    client: Client, sent: Sent, boutique: Boutique
) -> None:
    visit = booked(client, sent)
    with time_machine.travel(AFTER_THE_VISIT, tick=False):
        fields = {"day": "2026-07-03", "form_key": "5b8f6a3e-58b5-4f3e-9d6c-0d3f7b8f2a11"}
        refused = client.post(visit_address(sent, f"{visit.pk}/cancel/"), fields)
    assert refused.status_code == 409
    assert "Nothing was changed: this visit has begun or is over." in text_of(refused)


def test_a_cancelled_visit_says_which_it_was(client: Client, sent: Sent, boutique: Boutique) -> None:
    visit = booked(client, sent)
    Visit.objects.filter(pk=visit.pk).update(state="cancelled")
    text = words_of(client, visit_address(sent, f"{visit.pk}/"))
    assert "This visit is cancelled It was booked at Harrowmere for Friday, 12 June 2026, 10:00." in text


def test_with_a_visit_booked_the_letter_sends_nobody_to_another_boutique(
    client: Client, sent: Sent, boutique: Boutique
) -> None:
    assert "Please bring it to Harrowmere" in words_of(client, sent.address)
    booked(client, sent)
    assert "Please bring it to" not in words_of(client, sent.address)


def test_links_that_are_old_withdrawn_or_wrong_say_the_same_and_whom_to_ask(client: Client, sent: Sent) -> None:
    make_link(sent.letter, "page", "old", expires_at=NOW - timedelta(seconds=1))
    withdrawn = make_link(sent.letter, "page", "withdrawn")
    OwnerLink.objects.filter(pk=withdrawn.pk).update(withdrawn_at=NOW)
    pages = {
        re.sub(r'(csrf\S*|nonce-?\S*)="[^"]*"', "", client.get(f"/o/{name}/").content.decode())
        for name in ("old", "withdrawn", "wrong")
    }
    assert len(pages) == 1
    text = pages.pop()
    assert "It may be incomplete or too old, or we have withdrawn it." in text
    assert 'href="mailto:service@fernhollow.example"' in text


def test_a_link_that_confirms_no_address_any_more_says_how_to_give_it_again(client: Client) -> None:
    answer = client.get("/o/address/too-old/")
    assert answer.status_code == 404
    assert "please give it once more" in answer.content.decode()
    assert "please give it once more" not in client.get("/o/too-old/").content.decode()


def test_a_failed_test_of_tightness_warns_until_a_later_one_is_passed(client: Client, sent: Sent, piece: Piece) -> None:
    open_pages(client, sent)
    page = f"{sent.address}watch/{piece.pk}/"
    history(piece, "2025-10-10", kind="tightness_check", tightness="failed")
    assert "Keep it out of water until it has passed one." in words_of(client, page)
    history(piece, "2025-11-07", kind="repair", tightness="passed")
    text = words_of(client, page)
    assert "It did not pass the tightness test, and passed a later one." in text
    assert "Keep it out of water" not in text
    history(piece, "2026-02-02", kind="tightness_check", tightness="failed")
    assert "Keep it out of water until it has passed one." in words_of(client, page)
