"""What a mail provider tells, signed: twice, in any order, before we know it ourselves, and forged."""

import base64
import hashlib
import hmac
import json
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import permutations
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from service_center.book.models import Owner, Piece
from service_center.letters.actions import read_calls, settling, take_call
from service_center.letters.models import Answer, DeliveryReport, Letter, ProviderCall, StoppedAddress
from service_center.letters.returned.provider import PROVIDERS
from service_center.letters.rules.handing import Outcome, Phase, verdict
from service_center.letters.rules.words import LetterState
from tests.access.test_deployment import manage
from tests.letters.conftest import only_letter, round_on, send
from tests.letters.sink import MailSink

if TYPE_CHECKING:
    from service_center.letters.actions.claiming import Claim

Make = Callable[..., Piece]
KEY = "the-key-that-the-house-and-its-provider-share"
AT = datetime(2026, 3, 20, 9, 30, tzinfo=UTC).timestamp()


@pytest.fixture(autouse=True)
def _provider(settings: Any) -> None:
    settings.MAIL_PROVIDER, settings.MAIL_PROVIDER_KEY = "mailgun", KEY


@pytest.fixture
def in_doubt(due_piece: Make, sink: MailSink) -> Letter:
    due_piece()
    round_on("2026-03-18")
    sink.fail("after", "drop")
    send()
    return only_letter()


def event(letter: Letter, kind: str, *, minutes: int = 0, **fields: Any) -> dict[str, Any]:
    """One event, as the provider's documents show it."""
    return {
        "event": kind,
        "id": f"{kind}-{minutes}",
        "timestamp": AT + 60 * minutes,
        "recipient": letter.email,
        "message": {"headers": {"message-id": str(letter.message_id).strip("<>"), "to": letter.email}},
        "user-variables": {},
        **fields,
    }


def failed(letter: Letter, words: str, *, severity: str = "permanent", **fields: Any) -> dict[str, Any]:
    return event(
        letter, "failed", severity=severity, reason="bounce", **{"delivery-status": {"message": words}}, **fields
    )


def signed(data: dict[str, Any], *, key: str = KEY, token: str = "") -> bytes:
    """The body of a call, as the provider that has the key signs it."""
    token = token or hashlib.sha256(json.dumps(data).encode()).hexdigest()[:50]
    stamp = "1774000000"
    signature = hmac.new(key.encode(), f"{stamp}{token}".encode(), hashlib.sha256).hexdigest()
    proof = {"timestamp": stamp, "token": token, "signature": signature}
    return json.dumps({"signature": proof, "event-data": data}).encode()


def call(data: dict[str, Any], *, key: str = KEY) -> HttpResponse:
    body = signed(data, key=key)
    return cast(
        "HttpResponse", Client().post(reverse("letters:provider_events"), body, content_type="application/json")
    )


def test_a_signed_call_is_kept_as_it_came_and_read_by_the_sweep(in_doubt: Letter) -> None:
    assert call(failed(in_doubt, "550 5.1.1 no such user")).status_code == 200
    kept = ProviderCall.objects.get()
    assert json.loads(bytes(kept.body))["event-data"]["event"] == "failed"
    assert not DeliveryReport.objects.exists()
    assert read_calls() == 1
    told = DeliveryReport.objects.get()
    assert (told.letter, told.source, told.happened, told.status) == (in_doubt, "provider", "failed", "5.1.1")
    assert told.happened_at == datetime(2026, 3, 20, 9, 30, tzinfo=UTC)
    assert StoppedAddress.objects.get().email == in_doubt.owner.email
    assert read_calls() == 0


@pytest.mark.parametrize("key", ["another-key", ""])
def test_a_forged_call_is_turned_away_and_leaves_nothing(in_doubt: Letter, key: str) -> None:
    assert call(failed(in_doubt, "550 5.1.1 no such user"), key=key).status_code == 403
    assert not ProviderCall.objects.exists()


@pytest.mark.parametrize(
    "body", [b"", b"{", b"[]", b'{"signature": 1}', b"null", b"\xff", b'{"signature": {"token": 1}}']
)
def test_a_call_without_a_signature_is_turned_away(db: None, body: bytes) -> None:
    answer = Client().post(reverse("letters:provider_events"), body, content_type="application/json")
    assert answer.status_code == 403
    assert not ProviderCall.objects.exists()


def test_a_house_without_a_provider_has_no_such_door(db: None, settings: Any) -> None:
    settings.MAIL_PROVIDER = settings.MAIL_PROVIDER_KEY = ""
    assert call({"event": "delivered"}).status_code == 404


def test_a_monstrous_call_is_refused_unread(db: None) -> None:
    answer = Client().post(reverse("letters:provider_events"), b"x" * 1_100_000, content_type="application/json")
    assert answer.status_code == 413


def test_a_call_of_a_form_that_nobody_knows_is_kept_with_its_trouble_and_hides_no_other(in_doubt: Letter) -> None:
    assert call({"unheard": "of"}).status_code == 200
    assert call(event(in_doubt, "delivered")).status_code == 200
    assert read_calls() == 2
    assert [bool(one.trouble) for one in ProviderCall.objects.order_by("pk")] == [True, False]
    assert DeliveryReport.objects.get().happened == "delivered"


def test_a_delivery_settles_a_doubt(in_doubt: Letter) -> None:
    call(event(in_doubt, "delivered"))
    read_calls()
    letter = only_letter()
    assert (letter.state, letter.sent_at) == (LetterState.SENT, letter.dot_at)


@pytest.mark.parametrize("kind", ["complained", "unsubscribed"])
def test_an_owner_who_calls_a_letter_unwanted_gets_no_more(in_doubt: Letter, kind: str) -> None:
    for minutes in (0, 1):
        call(event(in_doubt, kind, minutes=minutes))
    read_calls()
    assert Owner.objects.get(pk=in_doubt.owner_id).letters is False
    answer = Answer.objects.get()
    assert (answer.choice, answer.letter, answer.said_on.isoformat()) == ("no_more_letters", in_doubt, "2026-03-20")
    assert not StoppedAddress.objects.exists()


@pytest.mark.parametrize("kind", ["opened", "clicked", "accepted"])
def test_what_owners_do_with_a_letter_is_neither_read_nor_kept(in_doubt: Letter, kind: str) -> None:
    call(event(in_doubt, kind))
    read_calls()
    told = DeliveryReport.objects.values_list("happened", flat=True)
    assert not list(told)


@pytest.mark.parametrize(
    ("data", "fault"),
    [
        ({"words": "550 5.7.26 unauthenticated"}, "policy"),
        ({"words": "552 5.2.2 full"}, "for_now"),
        ({"words": "Not delivering to previously bounced address", "reason": "suppress-bounce"}, "address"),
        ({"words": "Too old", "reason": "old"}, "for_now"),
        ({"words": "451 4.7.0 slow down", "severity": "temporary"}, "policy"),
        ({"words": "451 4.2.2 full", "severity": "temporary"}, "none"),
    ],
)
def test_whose_fault_it_is_goes_by_the_code_and_without_one_by_the_provider(
    in_doubt: Letter, data: dict[str, str], fault: str
) -> None:
    data = dict(data)
    call(failed(in_doubt, data.pop("words")) | data)
    read_calls()
    assert DeliveryReport.objects.get().fault == fault


def test_a_letter_of_somebody_else_who_shares_the_provider_is_passed_over(in_doubt: Letter) -> None:
    data = event(in_doubt, "complained")
    data["message"]["headers"]["message-id"] = f"letter.{in_doubt.pk}.{'0' * 24}@elsewhere.example"
    call(data | {"user-variables": {"letter": str(in_doubt.pk)}})
    read_calls()
    assert not DeliveryReport.objects.exists()


def world(letter: Letter) -> tuple[Any, ...]:
    """All that reports may change."""
    now = Letter.objects.select_related("owner").get(pk=letter.pk)
    stopped = StoppedAddress.objects.values_list("email", "status", "fault", "because")
    told = DeliveryReport.objects.order_by("happened", "happened_at").values_list("happened", "happened_at", "fault")
    return now.state, now.sent_at == now.dot_at, now.owner.letters, tuple(stopped), tuple(told)


def settle_as_taken(letter: Letter) -> None:
    """What a sender writes down once the server says 250."""
    claim = cast("Claim", SimpleNamespace(letter=letter.pk, attempt=letter.attempt, by=letter.claimed_by))
    outcome = Outcome(Phase.DOT, 250, "250 2.0.0 queued")
    settling.settle(claim, outcome, verdict(outcome))


@pytest.mark.parametrize("with_our_own_note", [False, True], ids=["in doubt", "with our own note of the hand-over"])
def test_five_events_in_any_order_and_twice_end_the_same(in_doubt: Letter, *, with_our_own_note: bool) -> None:
    events = [
        failed(in_doubt, "451 4.4.1 no answer", severity="temporary", minutes=1),
        event(in_doubt, "delivered", minutes=2),
        failed(in_doubt, "552 5.2.2 full", minutes=3),
        event(in_doubt, "complained", minutes=4),
        failed(in_doubt, "550 5.1.1 no such user", minutes=5),
    ]
    note = events[1]
    ends = set()
    for order in permutations(events):
        with transaction.atomic():
            for data in order:
                if with_our_own_note and data is note:
                    settle_as_taken(in_doubt)
                    continue
                # Told twice, then anew under another signature: another call, and the same event.
                for token in ("once", "once", "again"):
                    take_call(content_type="application/json", body=signed(data, token=f"{token}-{data['id']}"))
                read_calls()
            end = world(in_doubt)
            # When the 250 was written down is our own clock's, and no part of the end.
            ends.add((end[0], *end[2:]) if with_our_own_note else end)
            transaction.set_rollback(True)
    assert len(ends) == 1
    end = ends.pop()
    assert end[0] == LetterState.SENT
    assert end[-3] is False
    assert end[-2] == ((in_doubt.owner.email, "5.1.1", "address", "550 5.1.1 no such user"),)
    assert len(end[-1]) == (4 if with_our_own_note else 5)


def test_the_other_provider_signs_its_own_way_and_names_the_letter_by_what_we_gave_it(
    due_piece: Make, sink: MailSink, settings: Any
) -> None:
    settings.MAIL_PROVIDER = "mandrill"
    due_piece()
    round_on("2026-03-18")
    send()
    letter = only_letter()
    named = json.loads(sink.messages[0].parsed["X-MC-Metadata"])
    message = {
        "ts": AT, "_id": "an-id-of-its-own", "email": letter.email, "metadata": named, "state": "bounced",
        "diag": "smtp;550 5.1.1 no such user", "bounce_description": "bad_mailbox",
    }  # fmt: skip
    events = json.dumps([{"event": "hard_bounce", "_id": "an-id-of-its-own", "ts": AT, "msg": message}])
    address = reverse("letters:provider_events")
    signed = f"http://testserver{address}mandrill_events{events}".encode()
    signature = base64.b64encode(hmac.new(KEY.encode(), signed, hashlib.sha1).digest()).decode()
    post = {"mandrill_events": events}
    assert Client().post(address, post, headers={"X-Mandrill-Signature": "forged"}).status_code == 403
    assert Client().post(address, post, headers={"X-Mandrill-Signature": signature}).status_code == 200
    read_calls()
    assert DeliveryReport.objects.get().letter == letter
    assert StoppedAddress.objects.get().email == letter.owner.email


def test_without_a_provider_no_header_names_the_letter_to_one(due_piece: Make, sink: MailSink, settings: Any) -> None:
    settings.MAIL_PROVIDER = ""
    due_piece()
    round_on("2026-03-18")
    send()
    assert not [name for name in sink.messages[0].parsed if name.startswith("X-")]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"MAIL_PROVIDER": "unheard-of"}, "MAIL_PROVIDER: unheard-of"),
        ({"MAIL_PROVIDER": "mailgun"}, "MAIL_PROVIDER_KEY"),
    ],
)
def test_a_provider_that_cannot_be_is_named_when_the_site_starts(
    tmp_path: Any, changes: dict[str, str], said: str
) -> None:
    result = manage("check", data=tmp_path, **changes)
    assert result.returncode == 1
    assert f"{ImproperlyConfigured.__name__}: {said}" in result.stderr


def test_every_provider_that_the_settings_allow_can_be_read(tmp_path: Any) -> None:
    for name in PROVIDERS:
        assert manage("check", data=tmp_path, MAIL_PROVIDER=name, MAIL_PROVIDER_KEY=KEY).returncode == 0
