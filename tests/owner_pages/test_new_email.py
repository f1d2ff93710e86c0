"""Another e-mail address: letters go there once it is confirmed from that mailbox, and the one before is told."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from django.test import Client
from django.utils import timezone

from service_center.access.models import Trail
from service_center.book.models import Owner
from service_center.letters.models import Letter, StoppedAddress
from service_center.owner_pages.actions import send_notices
from service_center.owner_pages.data_paper import data_paper
from service_center.owner_pages.models import EmailChange, Notice
from service_center.owner_pages.rules import CONFIRM, hash_secret
from tests.factories import PieceFactory
from tests.letters.sink import MailSink
from tests.owner_pages.conftest import NOW, Sent, open_pages, send_about, words_of
from tests.owner_pages.test_data import text_of_pdf
from tests.owner_pages.test_details import save


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


@pytest.mark.django_db(transaction=True)
def test_an_address_given_in_the_wrong_hands_counts_no_more_once_the_desk_withdrew_the_links(
    client: Client, sent: Sent, sink: MailSink, signed_in: Callable[..., Client]
) -> None:
    """The one before was told, and asked to answer where it was not them: this is what the desk then does."""
    confirming(sent)
    before = sent.letter.owner.email
    address = f"/o/address/{'n' * 43}/"
    assert client.get(address).status_code == 200
    desk = signed_in("desk")
    assert "waits to be confirmed does not count" in desk.get(f"/letters/{sent.letter.pk}/").content.decode()
    desk.post(f"/letters/{sent.letter.pk}/links/")
    for found in (client.get(address), client.post(address)):
        assert found.status_code == 404
    assert Owner.objects.get(pk=sent.letter.owner_id).email == before
    # And they can still give that address themselves, on the page of another letter.
    Letter.objects.filter(pk=sent.letter.pk).update(planned_on=date(2026, 5, 1))
    another = send_about(PieceFactory(owner=sent.letter.owner))
    open_pages(client, another)
    assert "We are writing to" not in words_of(client, f"{another.address}details/")
    save(client, another, email="ada@new.example")
    with time_machine.travel(NOW, tick=True):
        assert send_notices(now=NOW) == 2
    mail = next(one for one in sink.messages if one.recipients == ("ada@new.example",))
    link = next(line for line in mail.text.splitlines() if "/o/address/" in line)
    assert client.post(link[link.index("/o/address/") :]).status_code == 200
    assert Owner.objects.get(pk=sent.letter.owner_id).email == "ada@new.example"


@pytest.mark.django_db(transaction=True)
def test_links_withdrawn_before_the_mail_to_the_new_address_left_hold_it_back_and_the_one_before_is_told(
    client: Client, sent: Sent, sink: MailSink, signed_in: Callable[..., Client]
) -> None:
    save(client, sent, email="ada@new.example")
    signed_in("desk").post(f"/letters/{sent.letter.pk}/links/")
    with time_machine.travel(NOW, tick=True):
        assert send_notices(now=NOW) == 1
    [told] = sink.messages
    assert told.recipients == (sent.letter.owner.email,)


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


def links_in(sink: MailSink) -> list[str]:
    lines = [line for one in sink.messages for line in one.text.splitlines() if "/o/address/" in line]
    return [line[line.index("/o/address/") :] for line in lines]


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("phase", "failure", "said"),
    [
        ("rcpt", "550 5.1.1 no such mailbox", "Our mail to ada@new.example was not taken."),
        ("after", "drop", "If no mail comes, please give the same address once more."),
    ],
)
def test_a_mail_that_did_not_arrive_can_be_asked_for_again(
    client: Client, sent: Sent, sink: MailSink, phase: str, failure: str, said: str
) -> None:
    Owner.objects.filter(pk=sent.letter.owner_id).update(email="")
    save(client, sent, email="ada@new.example")
    sink.fail(phase, failure)
    with time_machine.travel(NOW, tick=True):
        send_notices(now=NOW)
    open_pages(client, sent)
    assert said in words_of(client, f"{sent.address}details/")
    before = links_in(sink)  # in doubt, it came all the same
    save(client, sent, email="ada@new.example")
    with time_machine.travel(NOW, tick=True):
        assert send_notices(now=NOW) == 1
    assert said not in words_of(client, f"{sent.address}details/")
    [link] = links_in(sink)[len(before) :]
    assert [client.get(one).status_code for one in before] == [404] * len(before)
    assert client.post(link).status_code == 200
    assert Owner.objects.get(pk=sent.letter.owner_id).email == "ada@new.example"


@pytest.mark.django_db(transaction=True)
def test_an_address_given_again_while_its_mail_waits_or_once_it_went_gets_no_other(
    client: Client, sent: Sent, sink: MailSink
) -> None:
    for _number in range(2):
        save(client, sent, email="ada@new.example")
    with time_machine.travel(NOW, tick=True):
        assert send_notices(now=NOW) == 2
        save(client, sent, email="ada@new.example")
        assert send_notices(now=NOW) == 0
    assert EmailChange.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_who_gives_a_stopped_address_reads_that_nothing_goes_there_until_the_desk_lifts_it(
    client: Client, sent: Sent, sink: MailSink
) -> None:
    StoppedAddress.objects.create(email="ada@new.example", stopped_at=NOW, because="550 5.1.1", letter=sent.letter)
    open_pages(client, sent)
    for _number in range(2):
        save(client, sent, email="Ada@new.example")
        text = words_of(client, f"{sent.address}details/")
        assert "We send no mail to Ada@new.example" in text
        assert "We are writing to" not in text
        with time_machine.travel(NOW, tick=True):
            send_notices(now=NOW)
    assert [one.recipients for one in sink.messages] == [(sent.letter.owner.email,)]
    StoppedAddress.objects.all().delete()
    save(client, sent, email="Ada@new.example")
    with time_machine.travel(NOW, tick=True):
        send_notices(now=NOW)
    assert len(links_in(sink)) == 1


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


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("zone", "asked", "named", "last", "over"),
    [
        ("Europe/London", "2026-06-05T09:00:00Z", "12 June 2026", "2026-06-12T22:59:59Z", "2026-06-12T23:00:00Z"),
        ("Asia/Tokyo", "2026-06-05T16:00:00Z", "13 June 2026", "2026-06-13T14:59:59Z", "2026-06-13T15:00:00Z"),
        ("America/Los_Angeles", "2026-06-06T02:00:00Z", "12 June 2026", "2026-06-13T06:59:59Z", "2026-06-13T07:00:00Z"),
    ],
)
def test_the_link_to_confirm_opens_until_the_end_of_the_day_it_names_by_the_owner_s_clock(
    client: Client, sent: Sent, sink: MailSink, zone: str, asked: str, named: str, last: str, over: str
) -> None:
    Owner.objects.filter(pk=sent.letter.owner_id).update(time_zone=zone)
    with time_machine.travel(asked, tick=True):
        save(client, sent, email="ada@new.example")
        send_notices(now=timezone.now())
        open_pages(client, sent)
        assert f"by {named}" in words_of(client, f"{sent.address}details/")
        paper = data_paper(Owner.objects.get(pk=sent.letter.owner_id), now=timezone.now())
        assert f"to be confirmed by {named}" in text_of_pdf(paper)
    mail = next(one for one in sink.messages if one.recipients == ("ada@new.example",))
    assert f"by {named}" in " ".join(mail.text.split())
    link = next(line for line in mail.text.splitlines() if "/o/address/" in line)
    address = link[link.index("/o/address/") :]
    with time_machine.travel(over, tick=False):
        assert client.post(address).status_code == 404
    with time_machine.travel(last, tick=False):
        assert client.post(address).status_code == 200
    assert Owner.objects.get(pk=sent.letter.owner_id).email == "ada@new.example"
