"""A round rehearsed: asked for by the desk, worked out by the worker, and what the round then does."""

import json
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from service_center.book.models import Owner, Piece
from service_center.book.rules import ServiceKind
from service_center.celery import app
from service_center.letters.asked_for import MAY_TAKE, TRIES
from service_center.letters.models import Letter, Round
from service_center.letters.rehearsing import queries
from service_center.letters.rehearsing.actions import KEPT, ask_to_rehearse, rehearse_next
from service_center.letters.rehearsing.models import Rehearsal
from service_center.letters.rehearsing.queries import rehearse, shown_of
from service_center.letters.rehearsing.rules import Rehearsed
from service_center.letters.rules.deciding import Reason
from service_center.letters.rules.unusual import Asked
from service_center.letters.rules.words import Step, Unusual
from service_center.letters.tasks import rehearse as task
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import recount, round_on
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
DAY, NOW = date(2026, 3, 18), datetime(2026, 3, 17, 9, tzinfo=UTC)
OVERHAUL = ServiceKind.OVERHAUL


@pytest.fixture
def desk(client: Client, db: None) -> Client:
    client.force_login(StaffFactory(role="desk"))
    return client


def asked(day: date = DAY) -> Rehearsal:
    return ask_to_rehearse(day=day, at=NOW, by=None)


def test_a_rehearsal_says_what_the_round_then_does_and_writes_nothing(due_piece: Make) -> None:
    owner = OwnerFactory()
    due_piece(owner=owner), due_piece(owner=owner), due_piece(owner=OwnerFactory(country="GB"))
    recount("2026-03-18")
    with CaptureQueriesContext(connection) as statements:
        found = rehearse(DAY)
    assert not [
        one
        for one in statements
        if not one["sql"].startswith(("SELECT", "SAVEPOINT", "RELEASE", "SET LOCAL", "DECLARE"))
    ]
    assert (found.letters, found.steps) == (2, {(OVERHAUL, Step.INVITATION): 3})
    assert not Round.objects.exists() and not Letter.objects.exists()
    result = round_on("2026-03-18")
    assert (result.letters, result.reminders) == (found.letters, found.steps.total())


def test_it_speaks_of_every_owner_however_many_are_read_at_once(
    due_piece: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queries, "OWNERS_AT_ONCE", 2)
    for country in ("FR", "GB", "DE", "IT", "JP"):
        due_piece(owner=OwnerFactory(country=country))
    recount("2026-05-25")
    found = rehearse(date(2026, 5, 25))  # Whit Monday: free in France, England and Germany, worked in Italy and Japan
    result = round_on("2026-05-25")
    assert (found.owners, found.letters) == (5, 2)
    assert (result.letters, result.reminders) == (found.letters, found.steps.total())
    assert found.reasons == Counter(one.reason for one in result.not_written) == {Reason.NOT_A_WORKING_DAY: 3}


def test_nothing_joins_a_letter_that_waits_where_the_round_would_be_held(due_piece: Make, sink: MailSink) -> None:
    owner = OwnerFactory()
    due_piece(owner=owner)
    round_on("2026-03-18")  # its letter waits
    due_piece(owner=owner, sold_on=date(2019, 5, 19))  # due two days later
    recount("2026-03-20")
    for day, held in ((date(2026, 3, 20), None), (date(2026, 3, 30), Unusual.AHEAD)):
        found = rehearse(day)
        result = round_on(day.isoformat(), asked=Asked.BY_CLOCK, dry_run=True)
        assert (found.unusual, result.held) == (held, held)
        assert (result.letters, result.reminders) == (found.letters, found.steps.total())
    assert (rehearse(date(2026, 3, 20)).joined, rehearse(date(2026, 3, 30)).joined) == (1, 0)


def test_what_is_kept_says_the_same_and_names_no_owner(due_piece: Make) -> None:
    owner = OwnerFactory(name="Ada Winter", email="ada@winter.example")
    due_piece(owner=owner), due_piece(owner=OwnerFactory(country="GB"))
    recount("2026-05-25")
    for day in (DAY, date(2026, 5, 25)):
        found = rehearse(day)
        assert Rehearsed.from_json(json.loads(json.dumps(found.as_json()))) == found
    asked()
    rehearse_next(now=NOW)
    kept = json.dumps(Rehearsal.objects.get().found)
    assert "winter" not in kept.lower() and owner.code not in kept


def test_one_that_is_under_way_is_not_asked_for_twice(db: None) -> None:
    first = asked()
    assert asked().pk == first.pk
    assert asked(DAY + timedelta(days=1)).pk != first.pk
    with pytest.raises(IntegrityError), transaction.atomic():
        Rehearsal.objects.create(day=DAY, asked_at=NOW)


def test_it_is_there_once_worked_out_and_may_be_asked_for_anew(due_piece: Make) -> None:
    due_piece()
    recount("2026-03-17")
    first = asked()
    assert rehearse_next(now=NOW) and not rehearse_next(now=NOW)
    shown = shown_of(DAY)
    assert (shown.rehearsal, shown.under_way, shown.failed) == (first, None, None)
    assert shown.found is not None and shown.found.letters == 1
    second = asked()
    shown = shown_of(DAY)
    assert (shown.rehearsal, shown.under_way) == (first, second)


def test_the_first_that_was_asked_for_is_the_first_worked_out(db: None) -> None:
    asked(), asked(DAY + timedelta(days=1))
    rehearse_next(now=NOW)
    assert list(Rehearsal.objects.exclude(finished_at=None).values_list("day", flat=True)) == [DAY]


def test_what_one_worker_has_in_hand_no_other_takes_until_it_must_be_dead(db: None) -> None:
    Rehearsal.objects.filter(pk=asked().pk).update(begun_at=NOW, tries=1)
    assert not rehearse_next(now=NOW + timedelta(minutes=5))
    assert rehearse_next(now=NOW + MAY_TAKE)
    assert shown_of(DAY).rehearsal is not None


def test_what_kills_its_worker_is_given_up(db: None) -> None:
    Rehearsal.objects.filter(pk=asked().pk).update(begun_at=NOW, tries=TRIES)
    assert not rehearse_next(now=NOW + MAY_TAKE)
    shown = shown_of(DAY)
    assert shown.rehearsal is None and shown.under_way is None
    assert shown.failed is not None and shown.failed.why == "the worker ended three times"


def test_a_worker_that_was_taken_for_dead_changes_nothing_when_it_ends(
    due_piece: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = asked()

    def slow(as_of: date) -> Rehearsed:
        Rehearsal.objects.filter(pk=one.pk).update(finished_at=NOW, found=Rehearsed(letters=7).as_json())
        return Rehearsed(letters=9)

    monkeypatch.setattr("service_center.letters.rehearsing.actions.rehearse", slow)
    rehearse_next(now=NOW + MAY_TAKE)
    found = shown_of(DAY).found
    assert found is not None and found.letters == 7


def test_a_fault_is_told_and_the_last_good_one_stays(desk: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    asked()
    rehearse_next(now=NOW)

    def broken(as_of: date) -> Rehearsed:
        raise MemoryError

    with monkeypatch.context() as patched:
        patched.setattr("service_center.letters.rehearsing.actions.rehearse", broken)
        asked()
        rehearse_next(now=NOW)
    page = desk.get(reverse("letters:rehearsal"), {"day": DAY.isoformat()}).content.decode()
    assert "It could not be worked out (MemoryError)" in page
    assert "No letter would be written." in page


def test_old_ones_go(db: None) -> None:
    for number in range(KEPT + 3):
        asked(DAY + timedelta(days=number))
        rehearse_next(now=NOW)
    assert Rehearsal.objects.count() == KEPT
    assert not Rehearsal.objects.filter(day=DAY).exists()


def test_whoever_asks_rings_for_the_worker_whose_timetable_also_looks(
    monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Callable[..., object], db: None
) -> None:
    rung: list[str] = []
    monkeypatch.setattr("service_center.letters.doorbell.ring", rung.append)
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
        asked()
    assert rung == [task.name]
    assert app.conf.beat_schedule["rehearse"]["task"] == task.name


@time_machine.travel("2026-03-17 09:00", tick=False)
def test_the_desk_asks_and_sees_it_once_it_is_there(due_piece: Make, desk: Client) -> None:
    piece = due_piece(owner=OwnerFactory(name="Ada Winter"))
    recount("2026-03-17")
    address = reverse("letters:rehearsal")
    assert "This round has not been rehearsed yet." in desk.get(address).content.decode()
    page = desk.post(reverse("letters:rehearse"), {"day": "2026-03-18"}, follow=True).content.decode()
    one = Rehearsal.objects.get()
    progress = reverse("letters:rehearsal_progress", args=[one.pk])
    assert "Being worked out since" in page and progress in page and piece.serial not in page
    assert desk.get(progress).status_code == 204
    task()
    assert desk.get(progress).status_code == 200
    page = desk.get(address, {"day": "2026-03-18"}).content.decode()
    assert piece.serial in page and "Ada Winter" in page and "Worked out on 17 March 2026" in page
    assert '?day=2026-03-18"' in desk.get(address).content.decode()  # among those rehearsed lately
    Owner.objects.update(name="")  # as after erasing
    assert "Ada Winter" not in desk.get(address, {"day": "2026-03-18"}).content.decode()


@pytest.mark.parametrize("typed", ["yesterday", "", "2026-02-30"])
def test_a_day_that_is_none_is_said_and_stays_as_typed(typed: str, desk: Client) -> None:
    answer = desk.post(reverse("letters:rehearse"), {"day": typed})
    assert answer.status_code == 422
    assert f'value="{typed}"' in answer.content.decode() or not typed
    assert desk.get(reverse("letters:rehearsal"), {"day": typed}).status_code == 200
    assert not Rehearsal.objects.exists()
