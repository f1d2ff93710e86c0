"""An owner sees and corrects how the house reaches them; another e-mail address counts once it is confirmed."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from django.test import Client

from service_center.access.models import Trail
from service_center.book.models import Owner, PostalAddress
from service_center.letters.models import StoppedAddress
from service_center.owner_pages.actions import send_notices
from service_center.owner_pages.models import EmailChange, Notice, OwnerRequest
from service_center.owner_pages.places import countries, only_zone_of
from service_center.owner_pages.rules import CONFIRM, answer_by, hash_secret
from tests.factories import OwnerFactory, PieceFactory
from tests.letters.sink import MailSink
from tests.owner_pages.conftest import NOW, Sent, open_pages, send_about, words_of


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


# --- another e-mail address ---------------------------------------------------------------------------------


@pytest.mark.django_db
def test_letters_go_to_the_address_before_until_the_new_one_is_confirmed(client: Client, sent: Sent) -> None:
    before = sent.letter.owner.email
    save(client, sent, email="ada@new.example")
    assert Owner.objects.get(pk=sent.letter.owner_id).email == before
    open_pages(client, sent)
    text = words_of(client, f"{sent.address}details/")
    assert "We are writing to ada@new.example" in text
    assert "by 12 June 2026" in text


@pytest.mark.django_db(transaction=True)
def test_the_new_address_gets_a_link_and_the_one_before_is_told(client: Client, sent: Sent, sink: MailSink) -> None:
    owner = sent.letter.owner
    before = owner.email
    save(client, sent, email="ada@new.example")
    with time_machine.travel(NOW, tick=True):
        assert send_notices(now=NOW) == 2
        assert send_notices(now=NOW) == 0
    to_new = next(one for one in sink.messages if one.recipients == ("ada@new.example",))
    to_old = next(one for one in sink.messages if one.recipients == (before,))
    assert len(sink.messages) == 2
    link = next(line for line in to_new.text.splitlines() if "/o/address/" in line)
    assert "/o/" not in to_old.text
    assert owner.name in to_old.text
    assert owner.name.encode() not in to_new.content  # mistyped, it would reach a stranger
    assert "a•••@new.example" in to_old.text
    assert to_new.parsed["Auto-Submitted"] == "auto-generated"

    address = link[link.index("/o/address/") :]
    secret = address.split("/")[3]
    assert len(secret) == 43
    assert secret not in repr(list(EmailChange.objects.values_list()))
    looked = client.get(address)
    assert looked.status_code == 200
    assert looked["Referrer-Policy"] == "no-referrer"
    assert Owner.objects.get(pk=owner.pk).email == before  # a look changes nothing
    assert client.post(address).status_code == 200
    assert Owner.objects.get(pk=owner.pk).email == "ada@new.example"
    kept = Trail.objects.get(deed="email_confirmed")
    assert (kept.before, kept.after) == ({"email": before}, {"email": "ada@new.example"})
    assert client.post(address).status_code == 200  # pressed again, it is the same
    assert Trail.objects.filter(deed="email_confirmed").count() == 1


def confirming(sent: Sent, secret: str = "n" * 43, **fields: Any) -> EmailChange:
    """A change whose mail went out with that secret."""
    owner = sent.letter.owner
    made: EmailChange = EmailChange.objects.create(
        **{
            "owner": owner,
            "letter": sent.letter,
            "before": owner.email,
            "email": "ada@new.example",
            "asked_at": NOW,
            "expires_at": NOW + timedelta(days=7),
            "token_hash": hash_secret(CONFIRM, secret),
        }
        | fields
    )
    return made


@pytest.mark.django_db
@pytest.mark.parametrize(
    "fields", [{"expires_at": NOW}, {"withdrawn_at": NOW}, {"token_hash": None}], ids=["too old", "withdrawn", "other"]
)
def test_a_link_that_is_over_looks_like_one_that_never_was(client: Client, sent: Sent, fields: dict[str, Any]) -> None:
    confirming(sent, **fields)
    over, unknown = client.post(f"/o/address/{'n' * 43}/"), client.post(f"/o/address/{'m' * 43}/")
    assert (over.status_code, over.content) == (unknown.status_code, unknown.content)
    assert over.status_code == 404


@pytest.mark.django_db
def test_an_address_that_the_desk_changed_meanwhile_is_not_overwritten(client: Client, sent: Sent) -> None:
    confirming(sent)
    Owner.objects.filter(pk=sent.letter.owner_id).update(email="ada@desk.example")
    answer = client.post(f"/o/address/{'n' * 43}/")
    assert answer.status_code == 409
    assert "Nothing was changed" in answer.content.decode()
    assert Owner.objects.get(pk=sent.letter.owner_id).email == "ada@desk.example"


@pytest.mark.django_db
def test_a_new_address_lifts_nothing_that_was_stopped(client: Client, sent: Sent) -> None:
    """Neither for the address before, nor for the new one where that was stopped too."""
    for email in (sent.letter.owner.email, "ada@new.example"):
        StoppedAddress.objects.create(email=email, stopped_at=NOW, because="550 5.1.1", letter=sent.letter)
    confirming(sent)
    client.post(f"/o/address/{'n' * 43}/")
    assert Owner.objects.get(pk=sent.letter.owner_id).email == "ada@new.example"
    assert StoppedAddress.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_no_mail_goes_to_a_stopped_address(client: Client, sent: Sent, sink: MailSink) -> None:
    StoppedAddress.objects.create(email="ada@new.example", stopped_at=NOW, because="550 5.1.1", letter=sent.letter)
    save(client, sent, email="Ada@new.example")
    with time_machine.travel(NOW, tick=True):
        assert send_notices(now=NOW) == 1
    assert Notice.objects.get(kind="confirm").state == "ended"


@pytest.mark.django_db(transaction=True)
def test_an_owner_who_leaves_it_as_it_was_gets_no_link_but_the_one_before_is_told(
    client: Client, sent: Sent, sink: MailSink
) -> None:
    save(client, sent, email="ada@new.example")
    assert client.post(f"{sent.address}details/email/").status_code == 302
    with time_machine.travel(NOW, tick=True):
        send_notices(now=NOW)
    assert [one.recipients for one in sink.messages] == [(sent.letter.owner.email,)]
    assert EmailChange.objects.get().withdrawn_at == NOW


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("phase", "failure", "state"),
    [
        ("rcpt", "550 5.1.1 no such mailbox", "refused"),
        ("rcpt", "451 later", "waiting"),
        ("body", "drop", "waiting"),
        ("dot", "drop", "in_doubt"),
        ("after", "drop", "in_doubt"),
    ],
)
def test_a_notice_ends_where_a_letter_would(
    client: Client, sent: Sent, sink: MailSink, phase: str, failure: str, state: str
) -> None:
    Owner.objects.filter(pk=sent.letter.owner_id).update(email="")
    sent.letter.owner.refresh_from_db()
    save(client, sent, email="ada@new.example")
    sink.fail(phase, failure)
    with time_machine.travel(NOW, tick=True):
        send_notices(now=NOW)
        send_notices(now=NOW)
    assert Notice.objects.get().state == state
    assert len(sink.messages) == (1 if phase == "after" else 0)


@pytest.mark.django_db
def test_a_fourth_new_address_in_a_day_is_refused_and_writes_nothing(client: Client, sent: Sent) -> None:
    """Each makes the house write two mails: nobody uses it against strangers."""
    for number in range(3):
        assert save(client, sent, email=f"ada{number}@new.example").status_code == 302
    answer = save(client, sent, email="ada9@new.example", phone="+41 44 000 00 00")
    assert answer.status_code == 429
    assert "changed several times today" in answer.content.decode()
    assert EmailChange.objects.count() == 3
    assert Owner.objects.get(pk=sent.letter.owner_id).phone == sent.letter.owner.phone
    cache.clear()
    with time_machine.travel(NOW + timedelta(days=1), tick=False):
        assert save(client, sent, email="ada9@new.example").status_code == 302


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
