"""A copy of one's data to read (PDF) and for another program (JSON) hold the same kinds of things."""

import json
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils.dateparse import parse_date, parse_datetime
from django.utils.formats import date_format

from service_center.bench.orders import telling
from service_center.book.models import Piece
from service_center.letters.models import Letter
from service_center.letters.rules.words import Channel
from service_center.owner_pages.actions import confirm_email
from service_center.owner_pages.models import EmailChange
from service_center.workshop.models import WorkOrder
from service_center.workshop.orders.rules.answers import Heard
from tests.factories import OwnerFactory, PieceFactory, StaffFactory, history
from tests.owner_pages.conftest import NOW, TODAY, Sent, open_pages, send_about
from tests.owner_pages.orders.asking import ask, looked_at
from tests.owner_pages.test_data import copy, lived_with, take_copy, text_of_pdf

pytestmark = pytest.mark.django_db


def on(text: str) -> str:
    day = parse_date(text) or parse_datetime(text)
    return date_format(day)


def told_of(letter: dict[str, Any]) -> list[str]:
    """What names a letter: the watch it reminds of, the order, the receipt, or the visit."""
    tells = letter["tells_of"] or {}
    named = [one["serial"] for one in letter["about"]]
    named += [tells[key] for key in ("order", "receipt") if key in tells]
    return [on(letter["planned_on"]), *(named or ["Your visit"])]


def told_of_order(order: dict[str, Any]) -> list[str]:
    found = [f"Order {order['number']}", order["serial"], on(order["opened_on"])]
    if order["promised_on"]:
        found.append(on(order["promised_on"]))
    if agreed := order["agreed_at_the_counter"]:
        found.append(f"£{agreed['total']}")
    for estimate in order["estimates"]:
        found += [estimate["note"], on(estimate["valid_until"]), f"You pay £{estimate['total']}"]
        for line in estimate["lines"]:
            found += [line["what"], line["because"], f"£{line['price']}"]
        if answer := estimate["answer"]:
            found += [on(answer["said_on"]), answer["your_words"], "You agreed" if answer["agreed"] else "You declined"]
    heard = {"estimate": "The estimate is ready", "ready": "Your watch can be fetched"}
    found += [heard[one["news"]] for one in order["told"]]
    return found


ANSWERED = {"not_now": "Not now", "booked": "You bring it to"}
# Of each kind of thing in the JSON: what the paper must say of every single one.
SAID: dict[str, Callable[[Any], list[str]]] = {
    "made_at": lambda at: [on(at)],
    "house": lambda house: [f"All that {house} holds about you"],
    "legal_grounds": lambda _: ["Why we hold it", "our contract with you", "the law asks us", "You can stop them"],
    "left_out": lambda _: ["names of our staff", "remarks written for the workshop"],
    "owner": lambda one: [
        one["name"],
        one["number"],
        one["email"],
        one["telephone"],
        *one["postal_address"],
        one["time_zone"],
    ],
    "watches": lambda one: [one["serial"], one["reference"], *(on(work["done_on"]) for work in one["work"])],
    "watches_before": lambda one: [one["serial"], "no longer yours"],
    "letter_grounds": lambda one: [on(one["on"]), one["wording"]],
    "letters": told_of,
    "answers": lambda one: [on(one["said_on"]), f"{one['serial']}: {ANSWERED[one['choice']]}", on(one["day"])],
    "visits": lambda one: [one["boutique"], on(one["day"]), f"{one['time']}: {one['state']}"],
    "drop_offs": lambda one: [f"{one['number']} · {one['serial']}", one["you_said"], one["left_with_it"]],
    "orders": told_of_order,
    "requests": lambda one: [on(one["asked_at"]), {"details": "You corrected", "copy": "A copy"}[one["kind"]]],
    "email_changes": lambda one: [f"{one['email']}: confirmed on {on(one['confirmed_at'])}"],
    "changes": lambda one: [str(value) for field, value in (one["before"] or {}).items() if field == "phone" and value],
}


def an_owner_with_all_of_it(client: Client) -> Sent:
    """Letters, answers, a visit, drop-offs, an order, an address confirmed, and a watch that was sold."""
    owner = OwnerFactory(name="Ada Winter", email="ada@winter.example", phone="+44 20 7946 0011", time_zone="UTC")
    piece = PieceFactory(serial="FH21-000042", owner=owner)
    sold = PieceFactory(serial="FH21-000043", owner=owner, boutique=piece.boutique)
    Letter.objects.filter(pk=send_about(sold).letter.pk).update(planned_on=date(2025, 3, 3))
    Piece.objects.filter(pk=sold.pk).update(owner=OwnerFactory())
    history(piece, "2023-03-02", kind="repair")
    sent = send_about(piece)
    lived_with(piece, sent, client, "ABLE")
    with_an_order(PieceFactory(serial="FH21-000044", owner=owner, boutique=piece.boutique))
    details = {"email": "ada@new.example", "phone": "+44 20 7946 0022", "country": "GB", "language": "en"}
    assert client.post(f"{sent.address}details/", details | {"address": "Way ABLE"}).status_code == 302
    assert confirm_email(EmailChange.objects.get(), now=NOW)
    return sent


def with_an_order(piece: Piece) -> WorkOrder:
    """Agreed in part at the counter, then asked, declined by telephone, and ready to be fetched."""
    staff = StaffFactory(role="watchmaker")
    order = looked_at(piece, staff, "R-000077")
    WorkOrder.objects.filter(pk=order.pk).update(agreed_total=Decimal("612.00"), agreed_currency="GBP")
    estimate = ask(order, staff, note="The hands are original and stay.")
    telling.note_told(order, Channel.TELEPHONE, on=TODAY, now=NOW, note="", by=staff)
    telling.hear_answer(
        estimate, agreed=False, heard=Heard.TELEPHONE, heard_by=staff, on=TODAY, at=NOW, words="Too dear for me."
    )
    return order


def test_both_copies_hold_the_same_kinds_of_things(client: Client) -> None:
    """Every kind that the one has is looked for in the other, thing by thing; a kind that is new to it fails here."""
    sent = an_owner_with_all_of_it(client)
    open_pages(client, sent)
    take_copy(client, sent)
    found = copy(client, sent)
    paper = text_of_pdf(take_copy(client, sent, "pdf").content)
    assert set(found) == set(SAID)
    assert found["orders"][-1]["told"], "nothing was told of the order: the test shows nothing"
    assert found["orders"][-1]["estimates"][0]["answer"]["heard"] == "telephone"
    for kind, said in SAID.items():
        things = found[kind] if isinstance(found[kind], list) and kind != "left_out" else [found[kind]]
        assert things, f"nothing of the kind {kind}: the test shows nothing"
        for thing in things:
            for words in said(thing):
                assert " ".join(str(words).split()) in paper, f"{kind}: {words!r} of {json.dumps(thing)[:300]}"
