"""The steps of a drop-off: each is kept as it is typed, right or wrong, whoever closes the tab."""

import json
import re
from datetime import date

import pytest
from django.urls import reverse

from service_center.access.models import Staff
from service_center.intake.models import Draft, DraftStep, DropOff
from service_center.measurements.models import Reading, TimingSheet
from tests.factories import BoutiqueFactory
from tests.intake.drafts.test_signing import NAME

pytestmark = pytest.mark.django_db


def test_the_steps_lead_to_the_receipt(begun):
    assert begun.say("story", asked=["overhaul", "strap"], owner_says="It stops at night.").headers[
        "Location"
    ] == begun.at("condition")
    answer = begun.say(
        "condition", all_as_worn="on", left_with="Box", declared_value="4'200", declared_currency="GBP",
        **{"crystal-grade": "deep_marks", "crystal-remark": "at two o'clock"},
    )  # fmt: skip
    assert answer.headers["Location"] == begun.at("readings")
    readings = {"full-CH-rate": "+4,5", "full-CH-amplitude": "285", "full-9H-rate": "−3.0", "24h-CH-amplitude": "245°"}
    assert begun.say("readings", instrument="T-1", lift_angle_deg="52", **readings).headers["Location"] == begun.at(
        "promise"
    )
    begun.say("promise", promised_on="2026-05-04", **{"overhaul-amount": "640", "strap-later": "on"})
    done = begun.sign(strokes=json.dumps(NAME))
    drop_off = DropOff.objects.get()
    assert done.headers["Location"] == reverse("intake:taken_in", args=[drop_off.pk])
    assert (drop_off.owner_says, drop_off.asked, drop_off.left_with) == (
        "It stops at night.",
        ["overhaul", "strap"],
        "Box",
    )
    assert (str(drop_off.declared_value), drop_off.declared_currency) == ("4200.00", "GBP")
    assert drop_off.promised_on == date(2026, 5, 4)
    assert drop_off.estimate == {
        "currency": "EUR",
        "lines": [
            {"asked": "overhaul", "amount": "640.00", "because": "staff"},
            {"asked": "strap", "amount": None, "because": "table"},
        ],
    }
    assert {"part": "crystal", "grade": "deep_marks", "remark": "at two o'clock"} in drop_off.condition
    assert {"part": "case", "grade": "as_worn", "remark": ""} in drop_off.condition
    kept = {(one.position, one.wind): (one.rate, one.amplitude) for one in Reading.objects.all()}
    assert {where: tuple(value and float(value) for value in values) for where, values in kept.items()} == {
        ("CH", "full"): (4.5, 285), ("9H", "full"): (-3, None), ("CH", "24h"): (None, 245),
    }  # fmt: skip
    page = begun.client.get(done.headers["Location"]).content.decode()
    for said in ("Crystal: deep marks (at two o&#x27;clock)", "£4,200.00", "4 May 2026", "Signature of Ada Winter"):
        assert said in page


def test_a_started_drop_off_is_there_after_a_closed_tab_and_on_another_device(begun, here, piece, counter_of, client):
    begun.say("story", asked=["check"], owner_says="Fog under the glass.")
    client.force_login(Staff.objects.get(boutique=here.code))
    first_page = client.get(reverse("intake:find")).content.decode()
    assert "Started, not finished" in first_page
    assert reverse("intake:started", args=[begun.draft.pk]) in first_page
    on = client.get(reverse("intake:started", args=[begun.draft.pk]))
    assert on.headers["Location"] == begun.at("condition")
    story = client.get(begun.at("story")).content.decode()
    assert "Fog under the glass." in story
    assert re.search(r'value="check"[^>]*checked', story)


def test_what_is_typed_is_kept_before_any_button_is_pressed_right_or_wrong(begun):
    answer = begun.client.post(
        begun.at("condition"), {"declared_value": "a lot", "left_with": "Pouch"}, headers={"X-Keep": "1"}
    )
    assert answer.status_code == 204
    page = begun.see("condition")
    assert 'value="a lot"' in page
    assert 'value="Pouch"' in page
    assert not DropOff.objects.exists()


def test_steps_are_kept_apart_and_only_their_own_fields(begun):
    begun.say("story", asked=["check"], owner_says="one\0two", strange="x")
    begun.say("readings", **{"full-CH-rate": "4"})
    said = dict(DraftStep.objects.values_list("step", "said"))
    assert said["story"] == {"asked": ["check"], "owner_says": ["onetwo"]}
    assert said["readings"]["full-CH-rate"] == ["4"]


def test_a_step_that_is_wrong_says_so_and_loses_nothing(begun):
    answer = begun.say("condition", left_with="Box and card", declared_value="12.345,6", declared_currency="GBP")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Say how it is, or tap" in page
    assert "Box and card" in page
    assert begun.say("condition", all_as_worn="on", declared_value="-3", declared_currency="GBP").status_code == 422
    assert begun.say("condition", all_as_worn="on", declared_value="5", declared_currency="XXX").status_code == 422
    assert begun.say("condition", all_as_worn="on", declared_value="", declared_currency="GBP").status_code == 302


@pytest.mark.parametrize(
    ("cell", "typed", "said"),
    [
        ("full-CH-amplitude", "361", "an amplitude above 360° cannot be"),
        ("full-CH-amplitude", "-1", "an amplitude below 0° cannot be"),
        ("full-3H-rate", "1000.1", "a rate beyond ±1,000 s/d cannot be"),
        ("full-3H-beat_error", "-0.1", "a beat error below 0 ms cannot be"),
        ("24h-12H-rate", "fast", "“fast” is not a number."),
        ("full-CH-rate", "NaN", "“NaN” is not a number."),
        ("full-CH-rate", "1e999", "a rate beyond"),
        ("full-CH-rate", "9" * 500, "is not a number."),
        ("full-CH-rate", "4.25", "4.25 is finer than 0.1."),
    ],
)
def test_an_impossible_reading_is_named_by_its_cell_and_nothing_typed_is_lost(begun, cell, typed, said):
    answer = begun.say("readings", **{cell: typed, "full-6H-rate": "1.5", "instrument": "T-1"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert f'id="id_{cell}_error"' in page
    for kept in (typed, "1.5", "T-1"):
        assert kept in page
    assert not TimingSheet.objects.exists()


def test_an_unusual_reading_asks_for_a_second_look_and_is_then_taken(begun):
    begun.say_all()
    asked = begun.say("readings", **{"full-CH-rate": "75"})
    page = asked.content.decode()
    assert asked.status_code == 422
    assert "+75 s/d is more than ±60 s/d" in page
    confirmation = re.search(r'name="looked_again" value="(\w+)"', page)[1]
    assert begun.say("readings", **{"full-CH-rate": "80", "looked_again": confirmation}).status_code == 422
    assert "these steps need something" in begun.see("sign")
    begun.say("readings", **{"full-CH-rate": "75", "looked_again": confirmation})
    begun.sign()
    assert Reading.objects.get().rate == 75


@pytest.mark.parametrize(
    ("step", "fields", "said"),
    [
        ("story", {"asked": []}, "Choose at least one."),
        ("story", {"asked": ["gilding"]}, "gilding is not one of the available choices"),
        ("story", {"asked": ["check"], "owner_says": "x" * 2001}, "at most 2000 characters"),
        ("readings", {"lift_angle_deg": "5"}, "A lift angle lies between 20 and 90 degrees."),
        ("promise", {"promised_on": "2001-01-01"}, "That day is over."),
        ("promise", {"promised_on": "2199-01-01"}, "more than two years ahead"),
        ("promise", {"promised_on": "soon"}, "Enter a valid date."),
    ],
)
def test_what_is_wrong_is_said_at_its_step(begun, step, fields, said):
    answer = begun.say(step, **fields)
    assert answer.status_code == 422
    assert said in answer.content.decode()


@pytest.mark.parametrize(
    "fields", [{"overhaul-amount": "", }, {"overhaul-amount": "5", "overhaul-later": "on"}, {"overhaul-amount": "much"}]
)  # fmt: skip
def test_an_estimate_is_an_amount_or_comes_after_opening_and_not_both(begun, fields):
    begun.say("story", asked=["overhaul"])
    assert begun.say("promise", promised_on="2026-05-04", **fields).status_code == 422


def test_work_asked_later_is_estimated_as_usual_though_the_estimate_was_typed(begun):
    begun.say_all(asked=["overhaul"])
    begun.say("story", asked=["overhaul", "strap"])
    begun.say("promise", **begun.usual())
    begun.sign()
    assert [line["asked"] for line in DropOff.objects.get().estimate["lines"]] == ["overhaul", "strap"]


def test_a_day_promised_for_other_work_is_promised_again_before_anybody_signs(begun):
    begun.say_all(asked=["overhaul"])
    begun.say("promise", promised_on="2026-05-04", **{"overhaul-later": "on"})
    begun.say("story", asked=["battery"])
    page = begun.see("promise")
    assert "has changed since Monday, 4 May was promised" in page
    assert 'value="2026-05-04"' not in page, "the day of the other work is offered no more"
    refused = begun.sign()
    assert refused.status_code == 422
    assert "Promise and price" in refused.content.decode()
    assert not DropOff.objects.exists()
    begun.say("promise", **begun.usual())
    begun.sign()
    assert DropOff.objects.get().promised_on < date(2026, 5, 4)


def test_a_day_promised_stands_when_what_is_asked_is_as_it_was(begun):
    begun.say_all(asked=["overhaul"])
    begun.say("promise", promised_on="2026-05-04", **{"overhaul-later": "on"})
    begun.say("story", asked=["battery"])
    begun.say("story", asked=["overhaul"])
    begun.sign()
    assert DropOff.objects.get().promised_on == date(2026, 5, 4)


def test_a_promise_from_a_page_that_showed_other_work_is_kept_and_asked_again(begun):
    begun.say("story", asked=["overhaul"])
    shown_for = begun.shown_for()
    begun.say("story", asked=["battery"])  # in another tab
    answer = begun.say("promise", promised_on="2026-05-04", promised_for=shown_for, **{"battery-later": "on"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "has changed since this page was shown" in page
    assert 'value="2026-05-04"' in page, "what was typed stays"
    assert begun.say("promise", promised_on="2026-05-04", **{"battery-later": "on"}).status_code == 302


def test_a_mark_below_the_screen_is_named_at_its_head(begun):
    begun.say_all(asked=["overhaul"])
    page = begun.sign(agrees="").content.decode()
    assert page.index('<a href="#glass_error">Signature</a>') < page.index('id="glass_error"')
    page = begun.say("promise", promised_on="2001-01-01", **{"overhaul-later": "on"}).content.decode()
    assert '<a href="#id_promised_on">Promised for</a>: That day is over.' in page
    assert 'id="id_promised_on"' in page


def test_the_step_buttons_keep_and_go_where_they_say(begun):
    answer = begun.say("story", go="promise", owner_says="and then")
    assert answer.headers["Location"] == begun.at("promise")
    assert "and then" in begun.see("story")


def test_the_desk_says_at_which_boutique_a_piece_was_handed_in(signed_in, counter_of, piece):
    elsewhere = BoutiqueFactory(name="Elsewhere")
    desk = counter_of(signed_in("desk"))
    desk.begin(piece)
    desk.say("story", asked=["check"], boutique=elsewhere.pk)
    desk.draft.refresh_from_db()
    assert desk.draft.boutique == elsewhere
    Draft.objects.create(
        key="0" * 32, piece=piece, boutique=piece.boutique, begun_at=desk.draft.begun_at, begun_by=desk.draft.begun_by,
        at_it=desk.draft.at_it, at_it_since=desk.draft.begun_at, kept_at=desk.draft.begun_at,
    )  # fmt: skip
    answer = desk.say("story", asked=["check"], boutique=piece.boutique.pk)
    assert "was started at that boutique too" in answer.content.decode()


def test_a_boutique_cannot_say_that_it_was_another(begun, here):
    begun.say("story", asked=["check"], boutique=BoutiqueFactory().pk)
    begun.draft.refresh_from_db()
    assert begun.draft.boutique == here


HOSTILE = [
    "\0",
    "{{ 7|add:7 }}",
    "{x.__class__}",
    "<img src=http://evil.example/>",
    "=cmd|' /C calc'!A0",
    "\u202e\u200f",
    "𝔘𝔫𝔦\r\nX: y",
    "9" * 3000,
]


@pytest.mark.parametrize("text", HOSTILE)
def test_whatever_is_typed_anywhere_stays_text_and_breaks_nothing(begun, text):
    begun.say_all()
    for step in ("story", "condition", "readings", "promise", "sign"):
        names = set(re.findall(r'name="([\w-]+)"', begun.see(step))) - {
            "csrfmiddlewaretoken",
            "go",
            "camera",
            "photographs",
        }
        assert begun.say(step, **dict.fromkeys(names - {"add", "remove", "take_over"}, text)).status_code in {
            302,
            422,
            409,
        }
        page = begun.see(step)
        assert "<img src=http" not in page
    begun.say("story", asked=["check"], owner_says=text[:2000])
    begun.say("condition", all_as_worn="on", left_with=text[:200], declared_currency="GBP")
    begun.say("readings")
    begun.say("promise", promised_on="2026-05-04", **{"check-later": "on"})
    done = begun.sign(signer=text.replace("\0", "")[:200] or "Ada")
    assert done.status_code == 302, done.content.decode()
    drop_off = DropOff.objects.get()
    assert begun.client.get(reverse("intake:receipt", args=[drop_off.pk])).status_code == 200
