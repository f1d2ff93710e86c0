"""A started drop-off that a second person meets, that somebody gives up, or that nothing can come of any more."""

from datetime import UTC, datetime

import pytest
from django.urls import reverse

from service_center.access.models import Trail
from service_center.intake.drafts.actions import begin
from service_center.intake.models import Draft, DraftStep
from tests.factories import BoutiqueFactory, StaffFactory
from tests.intake.test_take_in import at_once

pytestmark = pytest.mark.django_db


def test_the_second_member_of_staff_sees_that_the_first_is_at_it_and_may_take_over(
    begun, signed_in, counter_of, here, piece
):
    begun.say("story", asked=["check"], owner_says="Fog under the glass.")
    second = counter_of(signed_in("boutique", here.code))
    second.begin(piece)
    assert second.draft == begun.draft
    page = second.see("story")
    assert "is taking this piece in" in page
    assert "Fog" not in page
    assert second.say("story", asked=["repair"], owner_says="Mine").status_code == 409
    second.client.post(reverse("intake:take_over", args=[begun.draft.pk]))
    assert "Fog under the glass." in second.see("story")
    assert Trail.objects.filter(deed="take_over_drop_off").count() == 1
    late = begun.say("story", asked=["check"], owner_says="What I typed meanwhile")
    assert late.status_code == 409
    assert "took this drop-off over" in late.content.decode()
    assert "What I typed meanwhile" in late.content.decode()
    assert begun.client.post(begun.at("story"), {}, headers={"X-Keep": "1"}).status_code == 409
    assert "Fog under the glass." in second.see("story")
    begun.say("story", asked=["check"], owner_says="What I typed meanwhile", take_over="yes")
    assert "What I typed meanwhile" in begun.see("story")


def test_another_boutique_neither_sees_nor_writes_a_started_drop_off(begun, signed_in, piece):
    stranger = signed_in("boutique", BoutiqueFactory(code="ELSE").code)
    for where in (begun.at("story"), reverse("intake:started", args=[begun.draft.pk])):
        assert stranger.get(where).status_code == 404
    for name in ("take_over", "give_up"):
        assert stranger.post(reverse(f"intake:{name}", args=[begun.draft.pk])).status_code == 404
    assert "FH21-000123" not in stranger.get(reverse("intake:find")).content.decode()


def test_each_boutique_starts_its_own_and_the_first_to_finish_ends_both(begun, signed_in, counter_of, piece):
    other = counter_of(signed_in("boutique", BoutiqueFactory(code="ELSE").code))
    other.begin(piece, serial="FH21-000123")
    assert other.draft != begun.draft
    begun.say_all()
    begun.sign()
    assert not Draft.objects.filter(ended_at=None).exists()
    assert other.client.get(other.at("story")).status_code == 302


def test_pressing_take_in_twice_begins_once(begun, counter, piece):
    counter.begin(piece)
    assert Draft.objects.count() == 1


def test_given_up_is_asked_for_once_and_leaves_nothing_that_was_typed(begun):
    begun.say("story", asked=["check"], owner_says="Fog under the glass.")
    where = reverse("intake:give_up", args=[begun.draft.pk])
    assert "Give this drop-off up?" in begun.client.get(where).content.decode()
    begun.client.post(where)
    assert not DraftStep.objects.exists()
    assert "Started, not finished" not in begun.client.get(reverse("intake:find")).content.decode()
    assert begun.say("story", asked=["check"]).headers["Location"] == reverse("intake:find")
    assert begun.client.post(begun.at("story"), {}, headers={"X-Keep": "1"}).status_code == 410


def test_a_piece_reported_stolen_meanwhile_stops_a_started_drop_off(begun, piece):
    piece.status = "stolen"
    piece.save()
    page = begun.see("story")
    assert "Call the service desk at once" in page
    assert "Ada Winter" not in page
    assert begun.say("story", asked=["check"]).status_code == 409


@pytest.mark.django_db(transaction=True)
def test_two_counters_of_a_boutique_that_press_at_once_are_at_one_drop_off(piece, here):
    staff = StaffFactory(role="boutique", boutique=here.code)
    now = datetime(2026, 3, 2, 10, 30, tzinfo=UTC)
    found = at_once([lambda: begin(piece, here, by=staff, at=now).pk] * 4)
    assert len(set(found)) == 1
    assert Draft.objects.count() == 1
