"""The calendar entry of a visit, read back by the icalendar library.

Sources: RFC 5545, 3.1 (folding), 3.3.11 (text), 3.8.4.7 (UID), 3.8.7.4 (SEQUENCE); RFC 5546, 3.2.1 (PUBLISH) and 3.2.5
(CANCEL).
"""

from datetime import UTC, date, datetime, time
from uuid import uuid4

import pytest
from django.utils import timezone
from icalendar import Calendar, Event

from service_center.book.models import Boutique
from service_center.intake.visits import actions, queries
from service_center.intake.visits.actions import Wish
from service_center.intake.visits.calendar_entry import calendar_entry
from service_center.intake.visits.models import Visit
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, WatchModelFactory
from tests.intake.visits import FRIDAY, NOW, TODAY, book, keep_hours

pytestmark = pytest.mark.django_db


@pytest.fixture
def boutique() -> Boutique:
    return keep_hours(BoutiqueFactory(time_zone="Europe/Zurich", country="CH"))


def written(visit: Visit) -> bytes:
    return calendar_entry(visit, queries.pieces_on(visit))


def read(visit: Visit) -> tuple[Calendar, Event]:
    calendar = Calendar.from_ical(written(visit))
    assert isinstance(calendar, Calendar)
    [event] = calendar.events
    return calendar, event


def test_the_entry_is_read_back_as_it_was_meant(boutique: Boutique) -> None:
    piece = PieceFactory(serial="FH21-000042")
    calendar, event = read(book(boutique, piece, at="10:30"))
    assert (calendar["version"], calendar["method"]) == ("2.0", "PUBLISH")
    assert event.start == datetime(2026, 6, 12, 8, 30, tzinfo=UTC)  # 10:30 in Zurich in summer
    assert event.end == datetime(2026, 6, 12, 9, 0, tzinfo=UTC)
    assert event["dtstart"].to_ical() == b"20260612T083000Z"
    assert event["dtstamp"].dt == NOW
    assert event["summary"] == "Visit at Fernhollow, Harrowmere"
    assert "Skerry FH21-000042" in event["description"]
    assert event["organizer"] == "mailto:service@fernhollow.example"
    assert "attendee" not in event  # RFC 5546, 3.2.1: a published entry names none
    assert (event["sequence"], event["status"]) == (0, "CONFIRMED")


def test_a_moved_visit_keeps_its_uid_and_counts_up_and_a_cancelled_one_says_cancel(boutique: Boutique) -> None:
    visit = book(boutique)
    first = read(visit)[1]
    moved = actions.move(visit, Wish(boutique, FRIDAY, time(11)), form_key=uuid4(), on=TODAY, now=NOW)
    second = read(moved)[1]
    calendar, third = read(actions.cancel(moved, ask_again=date(2026, 9, 1), form_key=uuid4(), on=TODAY, now=NOW))
    assert first["uid"] == second["uid"] == third["uid"] == f"{visit.key}@fernhollow.example"
    assert [event["sequence"] for event in (first, second, third)] == [0, 1, 2]
    assert (calendar["method"], third["status"]) == ("CANCEL", "CANCELLED")
    assert second.start == datetime(2026, 6, 12, 9, 0, tzinfo=UTC)


def test_no_two_visits_share_a_uid(boutique: Boutique) -> None:
    one, other = book(boutique), book(boutique, at="11:00")
    assert read(one)[1]["uid"] != read(other)[1]["uid"]


@pytest.mark.parametrize("language", ["en", "fr", "de", "it", "es", "ja"])
def test_lines_are_folded_at_75_octets_and_never_inside_a_character(boutique: Boutique, language: str) -> None:
    """RFC 5545, 3.1: 75 octets without the line break; the next line begins with one space."""
    Boutique.objects.filter(pk=boutique.pk).update(name="Überlingen – boutique de la révision complète, 時計店" * 2)
    model = WatchModelFactory(name="Étanchéité contrôlée à 10 bar – 防水検査済み" * 3)
    piece = PieceFactory(model=model, owner=OwnerFactory(language=language))
    visit = book(Boutique.objects.get(pk=boutique.pk), piece)
    lines = written(visit).split(b"\r\n")
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        assert len(line) <= 75
        line.decode("utf-8")  # whole characters
        assert b"\n" not in line
    assert model.name in read(visit)[1]["description"]


def test_text_in_records_stays_text(boutique: Boutique) -> None:
    name = "Harrowmere\r\nATTENDEE:mailto:someone@elsewhere.example\nSUMMARY:x; y, z\\n"
    Boutique.objects.filter(pk=boutique.pk).update(name=name)
    calendar, event = read(book(Boutique.objects.get(pk=boutique.pk)))
    assert "attendee" not in event
    assert len(calendar.events) == 1
    assert "SUMMARY:x; y, z" in event["location"]


def test_the_entry_speaks_the_owners_language(boutique: Boutique) -> None:
    event = read(book(boutique, PieceFactory(owner=OwnerFactory(language="de"))))[1]
    assert event["summary"] == "Termin bei Fernhollow, Harrowmere"


def test_the_zone_of_the_machine_changes_nothing(boutique: Boutique) -> None:
    visit = book(boutique)
    with timezone.override("Asia/Tokyo"):
        assert read(Visit.objects.select_related("boutique", "owner").get(pk=visit.pk))[1].start == datetime(
            2026, 6, 12, 8, 0, tzinfo=UTC
        )
