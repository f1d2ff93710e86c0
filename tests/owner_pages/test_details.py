"""An owner sees and corrects how the house reaches them; another e-mail address is test_new_email.py's."""

import html
from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client

from service_center.access.models import Trail
from service_center.book.actions import set_postal_address
from service_center.book.models import Owner, PostalAddress
from service_center.owner_pages.actions import Details, correct_by_desk
from service_center.owner_pages.models import EmailChange, OwnerRequest
from service_center.owner_pages.places import countries, only_zone_of
from service_center.owner_pages.rules import answer_by
from tests.factories import OwnerFactory, PieceFactory, StaffFactory
from tests.owner_pages.conftest import NOW, Sent, filled_in, open_pages, send_about, words_of


def said(owner: Owner, **changed: str) -> dict[str, str]:
    """The form as it is shown, with some fields typed over."""
    shown = {"email": owner.email, "phone": owner.phone, "country": owner.country, "language": owner.language}
    return shown | {"address": ""} | changed


def save(client: Client, sent: Sent, **changed: str) -> Any:
    owner = Owner.objects.get(pk=sent.letter.owner_id)
    return client.post(f"{sent.address}details/", said(owner, **changed))


@pytest.mark.django_db
def test_what_an_owner_corrects_stands_in_the_book_and_in_the_trail(client: Client, sent: Sent) -> None:
    before = sent.letter.owner
    answer = save(
        client, sent, phone="+41 44 000 00 00", country="CH", language="de", address="Seeweg 3\n\n 8001  Zürich "
    )
    assert answer.status_code == 302
    owner = Owner.objects.get(pk=before.pk)
    assert (owner.phone, owner.country, owner.language) == ("+41 44 000 00 00", "CH", "de")
    assert owner.time_zone == "Europe/Zurich"
    assert owner.phone_key == "00000004414"
    assert PostalAddress.objects.get(owner=owner).lines == "Seeweg 3\n8001 Zürich"
    kept = Trail.objects.get(deed="owner_corrects")
    assert kept.subject == f"owner:{owner.code}"
    assert kept.before["phone"] == before.phone
    assert kept.after["postal_address"] == "Seeweg 3\n8001 Zürich"
    assert kept.by is None
    assert str(sent.letter.pk) in kept.reason


@pytest.mark.django_db
def test_the_page_then_speaks_the_language_that_was_chosen(client: Client, sent: Sent) -> None:
    save(client, sent, language="ja")
    open_pages(client, sent)
    assert "ご登録内容" in words_of(client, f"{sent.address}details/")


@pytest.mark.django_db
def test_said_twice_it_is_written_once(client: Client, sent: Sent) -> None:
    for _number in range(2):
        save(client, sent, phone="+41 44 000 00 00")
    assert Trail.objects.filter(deed="owner_corrects").count() == 1
    assert OwnerRequest.objects.filter(kind="details").count() == 1


@pytest.mark.django_db
def test_a_form_that_changes_nothing_writes_nothing(client: Client, sent: Sent) -> None:
    assert save(client, sent).status_code == 302
    assert not Trail.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("field", "typed", "why"),
    [
        ("email", "ada@one.example, ada@two.example", "Please give one e-mail address"),
        ("email", '"ada"@owners.example', "Please give one e-mail address"),
        ("email", "", "Please fill this in."),
        ("phone", "ask at the desk", "Please give a telephone number in digits"),
        ("phone", "12", "Please give a telephone number in digits"),
        ("phone", "1" * 16, "Please give a telephone number in digits"),
        ("address", "\n".join(["a line"] * 8), "at most 7 lines of at most 70 characters"),
        ("address", "x" * 71, "at most 7 lines of at most 70 characters"),
        ("country", "XX", "Please choose one of these."),
        ("language", "tlh", "Please choose one of these."),
    ],
)
def test_what_cannot_be_is_named_and_nothing_typed_is_lost(
    client: Client, sent: Sent, field: str, typed: str, why: str
) -> None:
    answer = save(client, sent, **({"address": "Quay 4"} | {field: typed}))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert why in text
    assert field == "address" or "Quay 4" in text
    assert not Trail.objects.exists()
    assert not PostalAddress.objects.exists()


@pytest.mark.django_db
def test_what_came_into_the_book_otherwise_is_not_questioned_while_it_stays(client: Client) -> None:
    owner = OwnerFactory(phone="by way of the hotel", country="ZZ", language="pt-BR")
    sent = send_about(PieceFactory(owner=owner))
    answer = client.post(f"{sent.address}details/", said(owner, language="en", address="Quay 4"))
    assert answer.status_code == 302
    owner.refresh_from_db()
    assert (owner.phone, owner.country, owner.language) == ("by way of the hotel", "ZZ", "pt-BR")
    assert PostalAddress.objects.get(owner=owner).lines == "Quay 4"


@pytest.mark.django_db
def test_an_address_given_up_is_taken_out(client: Client, sent: Sent) -> None:
    save(client, sent, address="Quay 4")
    save(client, sent, address="")
    assert not PostalAddress.objects.exists()
    assert Trail.objects.filter(deed="owner_corrects").latest("pk").before == {"postal_address": "Quay 4"}


@pytest.mark.django_db
def test_a_page_that_was_open_sets_nothing_back_that_the_desk_corrected_meanwhile(client: Client, sent: Sent) -> None:
    owner = Owner.objects.get(pk=sent.letter.owner_id)
    set_postal_address(owner, "Quay 4\nHarrowmere")
    open_pages(client, sent)
    shown = filled_in(client.get(f"{sent.address}details/").content.decode())
    by_desk = Details("ada@desk.example", "+44 20 7946 0999", "Way 5\nHarrowmere", "fr", "GB")
    correct_by_desk(owner, by_desk, name="Ada Winter", reason="Told.", by=StaffFactory(role="desk"), now=NOW)
    assert client.post(f"{sent.address}details/", shown | {"country": "CH"}).status_code == 302
    owner.refresh_from_db()
    assert (owner.email, owner.phone, owner.language) == ("ada@desk.example", "+44 20 7946 0999", "fr")
    assert PostalAddress.objects.get(owner=owner).lines == "Way 5\nHarrowmere"
    assert (owner.country, owner.time_zone) == ("CH", "Europe/Zurich")
    assert not EmailChange.objects.exists()
    assert set(Trail.objects.get(deed="owner_corrects").before) == {"country", "time_zone"}


@pytest.mark.django_db
def test_what_was_changed_on_both_sides_is_told_and_what_was_typed_stays(client: Client, sent: Sent) -> None:
    owner = Owner.objects.get(pk=sent.letter.owner_id)
    open_pages(client, sent)
    shown = filled_in(client.get(f"{sent.address}details/").content.decode())
    by_desk = Details(owner.email, "+44 20 7946 0999", "", "en", "")
    correct_by_desk(owner, by_desk, name=owner.name, reason="Told.", by=StaffFactory(role="desk"), now=NOW)
    typed = shown | {"phone": "+41 44 000 00 00", "country": "CH", "address": "Seeweg 3"}
    answer = client.post(f"{sent.address}details/", typed)
    assert answer.status_code == 422
    text = html.unescape(answer.content.decode())
    assert "This was changed meanwhile, and is “+44 20 7946 0999” now." in text
    assert "This was emptied meanwhile." in text
    owner.refresh_from_db()
    assert (owner.phone, owner.country) == ("+44 20 7946 0999", "")
    assert not PostalAddress.objects.exists()
    # Whoever saves once more has read it.
    again = filled_in(answer.content.decode())
    assert {name: again[name] for name in ("phone", "country", "address")} == {
        name: typed[name] for name in ("phone", "country", "address")
    }
    assert client.post(f"{sent.address}details/", again).status_code == 302
    owner.refresh_from_db()
    assert (owner.phone, owner.country) == ("+41 44 000 00 00", "CH")
    assert PostalAddress.objects.get(owner=owner).lines == "Seeweg 3"


@pytest.mark.django_db
def test_a_field_that_cannot_be_does_not_bring_the_others_back_to_what_they_were(client: Client, sent: Sent) -> None:
    owner = Owner.objects.get(pk=sent.letter.owner_id)
    open_pages(client, sent)
    shown = filled_in(client.get(f"{sent.address}details/").content.decode())
    Owner.objects.filter(pk=owner.pk).update(country="CH")
    refused = client.post(f"{sent.address}details/", shown | {"phone": "ask at the desk"})
    assert refused.status_code == 422
    again = filled_in(refused.content.decode())
    assert client.post(f"{sent.address}details/", again | {"phone": "+41 44 000 00 00"}).status_code == 302
    owner.refresh_from_db()
    assert (owner.phone, owner.country) == ("+41 44 000 00 00", "CH")


# --- another e-mail address ---------------------------------------------------------------------------------


def test_countries_are_named_in_the_owner_s_language_and_none_twice() -> None:
    for language in ("en", "de", "fr", "it", "es", "ja"):
        names = dict(countries(language))
        assert len(names) == len(set(names.values())) > 240
    assert dict(countries("de"))["CH"] == "Schweiz"
    assert dict(countries("ja"))["JP"] == "日本"
    assert "EU" not in dict(countries("en"))


@pytest.mark.parametrize(("country", "zone"), [("JP", "Asia/Tokyo"), ("CH", "Europe/Zurich"), ("US", ""), ("", "")])
def test_a_country_with_one_time_zone_brings_it_along(country: str, zone: str) -> None:
    assert only_zone_of(country) == zone


def test_the_day_of_a_month_s_end_is_kept_within_the_month() -> None:
    """GDPR, Art. 12(3), by design/facts.md, 7: received 2025-01-31 to be answered by 2025-02-28, 2024-01-31 by 02-29."""
    asked = [datetime(2025, 1, 31, tzinfo=UTC), datetime(2024, 1, 31, tzinfo=UTC), datetime(2025, 11, 30, tzinfo=UTC)]
    assert [answer_by(day.date()).isoformat() for day in asked] == ["2025-02-28", "2024-02-29", "2025-12-30"]


# --- until when, by whose clock -----------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_zone_that_is_known_stays_where_the_country_that_is_chosen_has_it(client: Client, sent: Sent) -> None:
    """The United States have many zones; the country alone would name none."""
    owner = Owner.objects.filter(pk=sent.letter.owner_id)
    for known, country, kept in [
        ("America/Los_Angeles", "US", "America/Los_Angeles"),
        ("US/Pacific", "US", "US/Pacific"),  # an older name of the same
        ("Europe/Zurich", "US", ""),
        ("Europe/Busingen", "CH", "Europe/Zurich"),
        ("", "US", ""),
    ]:
        owner.update(country="", time_zone=known)
        assert save(client, sent, country=country).status_code == 302
        assert (known, owner.get().time_zone) == (known, kept)


@pytest.mark.django_db
def test_the_present_name_takes_a_request_for_another_back(client: Client, sent: Sent) -> None:
    name = sent.letter.owner.name
    ask_for = f"{sent.address}details/name/"
    client.post(ask_for, {"said": name})
    assert not OwnerRequest.objects.exists()
    client.post(ask_for, {"said": "Ada Summer"})
    assert OwnerRequest.objects.get().state == "open"
    client.post(ask_for, {"said": name})
    closed = OwnerRequest.objects.get()
    assert (closed.state, closed.said, closed.decided_by) == ("done", name, None)
    assert Owner.objects.get(pk=sent.letter.owner_id).name == name
    kept = Trail.objects.filter(deed="asks_name").latest("pk")
    assert (kept.before, kept.after) == ({"said": "Ada Summer"}, {"said": name})
    open_pages(client, sent)
    assert "You asked us to write it as" not in words_of(client, f"{sent.address}details/")
