"""The signature at the end of a drop-off: under the very text that was shown, once however often it is sent."""

import json
import re

import pytest
from django.urls import reverse

from service_center.intake.models import DropOff, Signature
from service_center.intake.signing.statement import sha256_of
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory

pytestmark = pytest.mark.django_db
NAME = [[[x, 100 + (x % 40)] for x in range(50, 400, 10)]]


def test_what_is_signed_is_kept_as_the_very_text_that_was_shown(begun):
    begun.say_all(left_with="Box & card")
    shown = begun.see("sign")
    begun.sign(strokes=json.dumps(NAME))
    signed = Signature.objects.get()
    assert signed.text_sha256 == sha256_of(signed.text)
    assert bytes(signed.drawn)[:4] == b"\x89PNG"
    for line in (
        "All parts as worn, no marks to note.",
        "Box & card",
        "It stops at night.",
        "Local codes and licensed practice come first.",
    ):
        assert line in signed.text
        assert line.replace("&", "&amp;") in shown
    lines = [line for line in signed.text.splitlines() if line]
    assert all(line.replace("&", "&amp;").replace("'", "&#x27;") in shown for line in lines)


def test_no_signature_lands_under_a_text_that_changed_after_it_was_shown(begun):
    begun.say_all()
    seen = re.search(r'name="seen" value="(\w+)"', begun.see("sign"))[1]
    begun.say("condition", all_as_worn="on", left_with="A diamond bracelet", declared_currency="GBP")
    answer = begun.sign(seen=seen, strokes=json.dumps(NAME))
    assert answer.status_code == 409
    assert "The text has changed since it was shown." in answer.content.decode()
    assert "A diamond bracelet" in answer.content.decode()
    assert not DropOff.objects.exists()
    assert not Signature.objects.exists()


@pytest.mark.parametrize(
    "fields",
    [
        {"agrees": ""},
        {"agrees": "", "strokes": "[]"},
        {"agrees": "", "strokes": json.dumps([[[1, 1]]])},
        {"strokes": "<svg onload=alert(1)>"},
        {"strokes": json.dumps([[[1, 5000]]])},
        {"strokes": json.dumps([[[1, 1.5]]])},
        {"strokes": json.dumps([[[1, 1]]] * 500)},
        {"strokes": "[" * 5000},
        {"signer": ""},
    ],
)
def test_without_a_signature_nothing_is_taken_in(begun, fields):
    begun.say_all()
    assert begun.sign(**fields).status_code == 422
    assert not DropOff.objects.exists()


def test_before_every_step_is_right_nobody_signs(begun):
    page = begun.see("sign")
    assert "these steps need something" in page
    assert 'name="signer"' not in page
    assert begun.sign().status_code == 422


def test_the_owner_signs_in_their_own_language(signed_in, counter_of, here):
    counter = counter_of(signed_in("boutique", here.code))
    counter.begin(PieceFactory(boutique=here, owner=OwnerFactory(name="Ada Winter", language="de")))
    counter.say_all()
    assert 'lang="de"' in counter.see("sign")
    counter.sign()
    assert Signature.objects.get().language == "de"


def test_a_double_tap_ends_on_the_same_page(begun):
    begun.say_all()
    seen = re.search(r'name="seen" value="(\w+)"', begun.see("sign"))[1]
    first, second = (begun.say("sign", seen=seen, signer="Ada", agrees="on") for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert (DropOff.objects.count(), Signature.objects.count()) == (1, 1)


def test_the_signature_is_shown_to_its_counter_alone(begun, signed_in):
    begun.say_all()
    begun.sign(strokes=json.dumps(NAME))
    where = reverse("intake:signature", args=[DropOff.objects.get().pk])
    picture = begun.client.get(where)
    assert picture.headers["Content-Type"] == "image/png"
    assert "sandbox" in picture.headers["Content-Security-Policy"]
    assert signed_in("boutique", BoutiqueFactory().code).get(where).status_code == 404
    assert signed_in("watchmaker").get(where).status_code == 403


def drawn_on(page):
    """The strokes that a page gives back to the glass."""
    return re.search(r'data-strokes="([^"]*)"', page)[1]


def test_a_signature_comes_back_where_another_field_is_wrong(begun):
    begun.say_all()
    answer = begun.sign(strokes=json.dumps(NAME), signer="", agrees="")
    assert answer.status_code == 422
    assert json.loads(drawn_on(answer.content.decode())) == NAME


@pytest.mark.parametrize("strokes", ["", "[]", json.dumps([[[1, 1]]]), json.dumps([[[1, 5000]]])])
def test_what_is_no_signature_does_not_come_back(begun, strokes):
    begun.say_all()
    answer = begun.sign(strokes=strokes, signer="", agrees="")
    assert answer.status_code == 422
    assert drawn_on(answer.content.decode()) == ""


def test_a_signature_does_not_come_back_under_another_text(begun):
    begun.say_all()
    seen = re.search(r'name="seen" value="(\w+)"', begun.see("sign"))[1]
    begun.say("condition", all_as_worn="on", left_with="A diamond bracelet", declared_currency="GBP")
    answer = begun.sign(seen=seen, strokes=json.dumps(NAME), signer="", agrees="")
    assert answer.status_code == 409
    assert drawn_on(answer.content.decode()) == ""
