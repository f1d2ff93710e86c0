"""The demo's boutiques keep hours, and owners come in the next days."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from service_center.book.models import Boutique
from service_center.demo import actions
from service_center.intake.visits.models import Visit
from service_center.intake.visits.queries import visits_when_closed, with_opening_hours
from service_center.letters.models import Answer

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 25)


def test_every_boutique_receives_by_the_hour_and_owners_have_booked(tmp_path: Path) -> None:
    actions.build(tmp_path, today=TODAY, progress=lambda *_: None, pieces=260)
    boutiques = list(Boutique.objects.order_by("code"))
    assert with_opening_hours(boutiques) == boutiques
    visits = Visit.objects.all()
    assert len(visits) >= 5
    assert {visit.state for visit in visits} == {"booked"}
    assert all(TODAY <= visit.day <= TODAY + timedelta(days=9) for visit in visits)
    assert Answer.objects.filter(choice="booked").count() >= len(visits)
    assert [visit for boutique in boutiques for visit in visits_when_closed(boutique, TODAY)] == []
