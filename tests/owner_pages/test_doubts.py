"""A letter in doubt whose own link comes back to us arrived: the desk has no doubt to decide (reliability.md, B2)."""

from datetime import timedelta

import pytest
from django.test import Client

from service_center.letters.models import Letter
from tests.owner_pages.conftest import NOW, SENT, Sent, make_link, open_pages


@pytest.fixture
def doubtful(sent: Sent) -> Sent:
    """Its server died between the dot and its answer."""
    Letter.objects.update(state="in_doubt", sent_at=None, dot_at=SENT, reason="no answer to the end of the message")
    return sent


def state() -> tuple[str, object]:
    letter = Letter.objects.get()
    return letter.state, letter.sent_at


def test_a_look_leaves_the_doubt_and_a_button_settles_it(client: Client, doubtful: Sent) -> None:
    """Mail programs look at links before anybody reads them; their looks change nothing."""
    assert client.get(doubtful.address).status_code == client.head(doubtful.address).status_code == 200
    assert state() == ("in_doubt", None)
    open_pages(client, doubtful)
    assert state() == ("sent", SENT)
    assert Letter.objects.get().reason == "settled by its own link"


def test_stopping_letters_from_the_mail_program_settles_it_too(client: Client, doubtful: Sent) -> None:
    assert client.post(doubtful.stop_address, {"List-Unsubscribe": "One-Click"}).status_code == 200
    assert state() == ("sent", SENT)


def test_a_link_of_later_word_about_a_visit_proves_nothing_of_the_letter_whose_page_it_opens(
    client: Client, doubtful: Sent
) -> None:
    link = make_link(doubtful.letter, "page", "later")
    assert link.made_at == NOW > SENT + timedelta(days=1)
    open_pages(client, Sent(doubtful.letter, "later", doubtful.stop))
    assert state() == ("in_doubt", None)


def test_a_letter_that_waits_to_be_sent_again_is_not_touched(client: Client, doubtful: Sent) -> None:
    Letter.objects.update(state="waiting")
    open_pages(client, doubtful)
    assert state() == ("waiting", None)
