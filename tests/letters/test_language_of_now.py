"""A letter speaks the language that its owner has when it goes, and is read later as it went."""

from collections.abc import Callable

import pytest

from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.letters import actions
from service_center.letters.models import Letter
from service_center.letters.queries.contents import all_contents_of
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import NOW, only_letter, round_on, send
from tests.letters.sink import MailSink, Received

Make = Callable[..., Piece]


@pytest.fixture
def desk(db: None) -> Staff:
    staff: Staff = StaffFactory(role="desk")
    return staff


@pytest.fixture
def written(due_piece: Make, sink: MailSink) -> Letter:
    """A letter in German that waits."""
    due_piece(owner=OwnerFactory(language="de"))
    round_on("2026-03-18")
    return only_letter()


def speak(letter: Letter, language: str) -> None:
    letter.owner.language = language
    letter.owner.save()


def language_of(mail: Received) -> str:
    """The language of all its forms, by the words that each one has and the other has not."""
    said = str(mail.parsed["Content-Language"])
    ours, others = {"de": ("Revision", "révision"), "fr": ("révision", "Revision")}[said]
    for form in (mail.text, mail.html):
        assert ours in form
        assert others not in form
    return said


def read_again() -> str:
    letter = only_letter()
    content = all_contents_of([letter], now=NOW)[letter.pk]
    assert content.language == content.wording.language == letter.language
    return letter.language


def test_a_language_that_was_corrected_the_evening_before_is_that_of_the_letter(
    written: Letter, sink: MailSink
) -> None:
    speak(written, "fr-CH")
    assert send().sent == 1
    assert language_of(sink.messages[0]) == read_again() == "fr"


@pytest.mark.parametrize("said", ["451 4.3.0 later", "550 5.7.1 not signed"])
def test_a_letter_that_was_turned_away_goes_in_the_language_of_now(
    written: Letter, desk: Staff, sink: MailSink, said: str
) -> None:
    sink.fail("dot", said)
    assert send().sent == 0
    speak(written, "fr")
    if said.startswith("550"):
        actions.release(only_letter(), by=desk, now=NOW)
    Letter.objects.update(not_before=NOW)
    assert send().sent == 1
    assert language_of(sink.messages[0]) == read_again() == "fr"


def test_what_is_out_stays_as_it_went(written: Letter, sink: MailSink) -> None:
    assert send().sent == 1
    speak(written, "fr")
    assert language_of(sink.messages[0]) == read_again() == "de"


def test_a_letter_in_doubt_goes_again_as_the_same_message(written: Letter, desk: Staff, sink: MailSink) -> None:
    sink.fail("after", "drop")
    assert send().in_doubt == 1
    speak(written, "fr")
    actions.settle_doubt(only_letter(), actions.Settled.SENT_AGAIN, by=desk, now=NOW)
    assert send().sent == 1
    assert [language_of(mail) for mail in sink.messages] == ["de", "de"]
    assert read_again() == "de"
