"""A counter with a piece on it."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any
from uuid import uuid4

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from service_center.book.models import Piece
from service_center.intake.actions import take_in
from service_center.intake.models import Draft, DropOff
from service_center.intake.rules import Asked
from tests.factories import BoutiqueFactory, StaffFactory
from tests.workshop.hands import bring_through


def give_back(piece: Piece) -> None:
    """Its overhaul finished, the piece goes to its owner."""
    bring_through(piece, date(2026, 4, 1))


@pytest.fixture
def take() -> Callable[..., DropOff]:
    """Take a piece in, on 2 March 2026 unless the sentence needs another day."""

    def deed(piece: Piece, **fields: Any) -> DropOff:
        usual = {
            "form_key": uuid4(),
            "boutique": fields.get("boutique") or piece.boutique or BoutiqueFactory(),
            "by": fields.get("by") or StaffFactory(),
            "taken_on": date(2026, 3, 2),
            "at": datetime(2026, 3, 2, 10, 30, tzinfo=UTC),
            "as_of": date(2026, 3, 2),
            "asked": [Asked.OVERHAUL],
            "owner_says": "It stops at night.",
            "left_with": "",
            "sitting": None,
        }
        return take_in(piece, **{**usual, **fields})

    return deed


class Counter:
    """A member of staff with a piece before them: the steps of a drop-off, one after another."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.draft: Draft | None = None

    def begin(self, piece: Piece, *, serial: str = "") -> HttpResponse:
        where = reverse("intake:drop_off", args=[piece.pk]) + (f"?serial={serial}" if serial else "")
        answer = self.client.post(where)
        self.draft = Draft.objects.filter(piece=piece, ended_at=None).order_by("-pk").first()
        return answer

    def at(self, step: str) -> str:
        assert self.draft
        return reverse("intake:step", args=[self.draft.pk, step])

    def see(self, step: str) -> str:
        return self.client.get(self.at(step)).content.decode()

    def say(self, step: str, **fields: Any) -> HttpResponse:
        if step == "promise" and "promised_for" not in fields:
            fields["promised_for"] = self.shown_for()
        return self.client.post(self.at(step), fields)

    def shown_for(self) -> str:
        """What the promise is made for, as its page has it."""
        shown = re.search(r'name="promised_for" value="([^"]*)"', self.see("promise"))
        return shown[1] if shown else ""

    def say_all(self, **fields: Any) -> None:
        """Every step but the signature, as plainly as can be."""
        self.say("story", asked=fields.pop("asked", ["overhaul"]), owner_says="It stops at night.")
        currency = re.search(r'<option value="(\w{3})"', self.see("condition"))
        assert currency
        self.say("condition", all_as_worn="on", declared_currency=currency[1], **fields)
        self.say("readings")
        self.say("promise", **self.usual())

    def usual(self) -> dict[str, str]:
        """The house's own day and amounts, as the page has them."""
        page = self.see("promise")
        fields = re.findall(r'<input type="(?:text|date)" name="([\w-]+)"(?: value="([^"]*)")?', page)
        later = re.findall(r'name="([\w-]+-later)"[^>]*checked', page)
        return dict(fields) | dict.fromkeys(later, "on")

    def sign(self, **fields: Any) -> HttpResponse:
        """Sign under the text as it is shown now, by name unless the sentence says otherwise."""
        seen = re.search(r'name="seen" value="(\w+)"', self.see("sign"))
        usual = {"seen": seen[1] if seen else "", "signer": "Ada Winter", "agrees": "on"}
        return self.say("sign", **{**usual, **fields})


@pytest.fixture
def counter_of() -> Callable[[Client], Counter]:
    return Counter
