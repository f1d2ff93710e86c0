"""Pages that were open when their link ended, their piece was sold on or their owner was erased; and other hosts."""

from collections.abc import Callable
from datetime import date
from html import unescape
from typing import Any
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import URLPattern

from service_center.book.models import Owner, Piece
from service_center.intake.visits.actions import NoLongerOpen, Wish, book
from service_center.intake.visits.models import Visit
from service_center.letters.actions import OwnerErased, set_ground
from service_center.letters.models import Letter, OwnerLink
from service_center.letters.rules.words import AnswerChoice, Ground
from service_center.owner_pages import actions
from service_center.owner_pages.actions import Details, OwnerErasedError
from service_center.owner_pages.desk import owner_views
from service_center.owner_pages.queries import pieces_of
from service_center.owner_pages.rules import RequestKind
from service_center.owner_pages.views import letters
from tests.factories import OwnerFactory, StaffFactory
from tests.owner_pages.conftest import NOW, TODAY, Sent, open_pages
from tests.owner_pages.test_altered_addresses import BEHIND, NAMES_A_THING, Household, address
from tests.owner_pages.test_piece_papers import give_back, read

pytestmark = pytest.mark.django_db
Snapshot = Callable[[], dict[str, list[tuple[object, ...]]]]


@pytest.fixture
def mine() -> Household:
    return Household("mine")


def everything_said(household: Household) -> dict[str, str]:
    """A form that each of the pages would take something from."""
    return {
        "choice": "not_now", "piece": household.piece.serial, "day": "2026-09-01", "form_key": str(uuid4()),
        "boutique": household.piece.boutique.code, "start": "2026-06-12T11:30", "answer": "agree", "form": "json",
        "kind": "erasure", "said": "Somebody Else", "phone": "+44 20 7946 0999", "language": "fr", "country": "GB",
        "email": "else@owners.example",
    }  # fmt: skip


@pytest.mark.parametrize("ended", ["expired", "withdrawn"])
def test_a_page_left_open_does_nothing_once_its_link_is_over(
    client: Client, mine: Household, snapshot: Snapshot, ended: str
) -> None:
    open_pages(client, mine.sent)
    addresses = [address(pattern, mine.sent.page, mine.thing(pattern)) for pattern in BEHIND]
    over = {"expires_at": NOW} if ended == "expired" else {"withdrawn_at": NOW}
    OwnerLink.objects.filter(letter=mine.sent.letter).update(**over)
    before = snapshot()
    for where in (*addresses, mine.sent.stop_address):
        cache.clear()
        form = everything_said(mine) | {"List-Unsubscribe": "One-Click"}
        assert client.post(where, form).status_code in {404, 405}, where
        assert client.get(where).status_code == 404, where
    assert snapshot() == before


@pytest.mark.parametrize("pattern", NAMES_A_THING, ids=lambda one: str(one.name))
def test_whoever_sold_a_piece_on_finds_nothing_of_it_behind_any_address(
    client: Client, mine: Household, snapshot: Snapshot, pattern: URLPattern
) -> None:
    if pattern.name == "report":
        read(mine.piece, TODAY)
        give_back(mine.piece, TODAY)
    open_pages(client, mine.sent)
    where = address(pattern, mine.sent.page, mine.thing(pattern))
    assert client.get(where).status_code in {200, 302}
    Piece.objects.filter(pk=mine.piece.pk).update(owner=OwnerFactory(name="The New One"))
    before = snapshot()
    for found in (client.get(where), client.post(where, everything_said(mine))):
        assert found.status_code in {404, 405}
        assert mine.piece.serial not in found.content.decode()
        assert "The New One" not in found.content.decode()
    assert snapshot() == before


def test_a_button_pressed_while_the_desk_erases_its_owner_writes_nothing(sent: Sent, snapshot: Snapshot) -> None:
    """The look that found the letter was before the erasure; the deed comes after it."""
    letter = Letter.objects.select_related("owner").get(pk=sent.letter.pk)
    pieces, piece = pieces_of(letter, TODAY), Piece.objects.get(owner=letter.owner)
    actions.erase(letter.owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    details = Details(email="a@owners.example", phone="+44 20 7946 0999", address="Quay 4", language="fr", country="GB")
    not_now: dict[str, Any] = {"choice": AnswerChoice.NOT_NOW, "day": date(2026, 9, 1), "boutique": None}
    before = snapshot()
    deeds: list[Callable[[], object]] = [
        lambda: actions.answer(letter, pieces, on=TODAY, now=NOW, **not_now),
        lambda: actions.resume_letters(letter, on=TODAY),
        lambda: actions.stop_letters(letter, on=TODAY),
        lambda: actions.correct_details(letter, details, on=TODAY, now=NOW),
        lambda: actions.withdraw_email_change(letter, now=NOW),
        lambda: actions.note_copy(letter, form="json", on=TODAY, now=NOW),
        lambda: actions.ask(letter, RequestKind.CORRECTION, said="I am Ada.", on=TODAY, now=NOW),
    ]
    for deed in deeds:
        with pytest.raises(OwnerErasedError):
            deed()
    with pytest.raises(NoLongerOpen):
        book(letter, [piece], Wish(piece.boutique, TODAY, NOW.time()), form_key=uuid4(), on=TODAY, now=NOW)
    assert snapshot() == before
    assert not Visit.objects.exists()


def test_what_the_desk_saves_while_the_owner_is_erased_writes_nothing(sent: Sent, snapshot: Snapshot) -> None:
    """The desk's page was open; its save waited for the row that the erasure held."""
    owner, desk = Owner.objects.get(pk=sent.letter.owner_id), StaffFactory(role="desk")
    actions.erase(owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    before = snapshot()
    details = Details(email="a@owners.example", phone="+44 20 7946 0999", address="Quay 4", language="fr", country="GB")
    with pytest.raises(OwnerErasedError):
        actions.correct_by_desk(owner, details, name="Ada", reason="Told.", by=desk, now=NOW)
    for ground in Ground:
        with pytest.raises(OwnerErased):
            set_ground(owner, ground, on=TODAY, wording="Yes.", by=desk, as_of=TODAY)
    assert snapshot() == before


@pytest.mark.parametrize("page", ["correct", "ground"])
def test_the_desk_learns_that_the_owner_was_erased_while_it_saved(
    sent: Sent, signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch, page: str
) -> None:
    """The erasure commits between the look at the row and the deed."""
    owner, desk = Owner.objects.get(pk=sent.letter.owner_id), signed_in("desk")
    module, name = (owner_views, "correct_by_desk") if page == "correct" else (owner_views.actions, "set_ground")
    before_it = getattr(module, name)

    def late(*said: Any, **more: Any) -> Any:
        actions.erase(owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
        return before_it(*said, **more)

    monkeypatch.setattr(module, name, late)
    said = {"ground": "consent", "on": TODAY.isoformat(), "wording": "Yes.", "name": "Ada", "reason": "Told."}
    said |= {"email": "a@owners.example", "phone": "", "address": "", "language": "en", "country": "GB"}
    answer = desk.post(f"/owners/of/{owner.pk}/{page}/", said, follow=True)
    assert answer.redirect_chain == [(f"/owners/of/{owner.pk}/", 302)]
    assert "Nothing was changed: this owner's data were erased meanwhile." in unescape(answer.content.decode())
    assert Owner.objects.get(pk=owner.pk).email == ""


@pytest.mark.parametrize("name", ["answer", "stop"])
def test_who_was_erased_while_they_pressed_sees_what_any_old_link_shows(
    client: Client, sent: Sent, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """The erasure commits between the door, which finds the letter, and the deed behind it."""
    where = sent.stop_address if name == "stop" else sent.answer_address
    found = client.get("/o/never-was/")
    owner = Owner.objects.get(pk=sent.letter.owner_id)
    before_it = actions.stop_letters if name == "stop" else actions.resume_letters

    def late(letter: Letter, *, on: date) -> bool:
        actions.erase(owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
        return before_it(letter, on=on)

    monkeypatch.setattr(actions, "stop_letters", late)
    monkeypatch.setitem(letters.ABOUT_LETTERS, "letters_again", late)
    pressed = client.post(where, {"List-Unsubscribe": "One-Click", "choice": "letters_again"})
    assert (pressed.status_code, pressed.content) == (404, found.content)


def test_after_the_erasure_every_address_is_one_that_never_was(client: Client, sent: Sent) -> None:
    open_pages(client, sent)
    actions.erase(sent.letter.owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    for where in (sent.address, sent.stop_address, f"{sent.address}details/", f"{sent.address}data/"):
        assert client.get(where).status_code == 404
        assert client.post(where, {"List-Unsubscribe": "One-Click"}).status_code in {404, 405}
    assert Owner.objects.get(pk=sent.letter.owner_id).letters is False


@pytest.mark.parametrize("host", ["stranger.example", "testserver.stranger.example", "a b", ""])
def test_a_host_that_is_not_ours_is_answered_with_nothing(client: Client, sent: Sent, host: str) -> None:
    found = client.get(sent.address, headers={"host": host})
    assert found.status_code == 400
    assert "stranger" not in found.content.decode()
    assert sent.page not in found.content.decode()


def test_no_page_takes_the_name_of_the_site_from_a_request(client: Client, sent: Sent) -> None:
    asked = {"x-forwarded-host": "stranger.example", "forwarded": "host=stranger.example"}
    for where in (sent.address, sent.stop_address):
        assert "stranger" not in client.get(where, headers=asked).content.decode()
    moved = client.post(f"{sent.address}details/", {"open": "yes"}, headers=asked)
    assert moved["Location"] == f"{sent.address}details/"
