"""Many owners at the same places at once (design/reliability.md, B6 and F14, F15): real threads, real processes."""

from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from datetime import time
from multiprocessing import get_context
from uuid import uuid4

import pytest
from django.db import connections

from service_center.book.models import Boutique
from service_center.intake.visits import actions
from service_center.intake.visits.actions import JustTaken, Wish
from service_center.intake.visits.models import Visit, VisitDeed
from service_center.letters.models import Answer, Letter
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, WatchModelFactory
from tests.intake.visits import FRIDAY, NOW, TODAY, keep_hours, letter_about

pytestmark = pytest.mark.django_db(transaction=True)

CLIENTS = 50
PLACES = 7


def ask_for_a_place(letter: int, boutique: int, at: time = time(10)) -> str:
    """What one owner is told."""
    try:
        one = Letter.objects.get(pk=letter)
        pieces = [reminder.piece for reminder in one.reminders.select_related("piece")]
        wish = Wish(Boutique.objects.get(pk=boutique), FRIDAY, at)
        visit = actions.book(one, pieces, wish, form_key=uuid4(), on=TODAY, now=NOW)
    except JustTaken:
        return "just taken"
    else:
        return f"seat {visit.seat}"
    finally:
        connections.close_all()


def all_at_once(letters: Sequence[int], boutique: int) -> list[str]:
    """One web process with a thread for each of its owners."""
    with ThreadPoolExecutor(len(letters)) as owners:
        return list(owners.map(lambda letter: ask_for_a_place(letter, boutique), letters))


@pytest.fixture
def boutique() -> Boutique:
    return keep_hours(BoutiqueFactory(), places=PLACES)


@pytest.fixture
def letters() -> list[int]:
    model = WatchModelFactory()
    return [letter_about(PieceFactory(model=model, owner=OwnerFactory(), boutique=None)).pk for _one in range(CLIENTS)]


def seats() -> list[int]:
    return sorted(Visit.objects.filter(state="booked").values_list("seat", flat=True))


def test_fifty_owners_in_two_processes_get_seven_places_and_the_others_are_told(
    boutique: Boutique, letters: list[int]
) -> None:
    connections.close_all()  # no process inherits another's line to the database
    halves = letters[: CLIENTS // 2], letters[CLIENTS // 2 :]
    with ProcessPoolExecutor(2, mp_context=get_context("fork")) as web:
        told = [word for half in web.map(all_at_once, halves, [boutique.pk] * 2) for word in half]
    assert Counter(told) == {"just taken": CLIENTS - PLACES} | {f"seat {seat}": 1 for seat in range(1, PLACES + 1)}
    assert seats() == list(range(1, PLACES + 1))
    assert Answer.objects.filter(choice="booked").count() == PLACES


def test_of_two_owners_at_the_last_place_one_gets_it(boutique: Boutique, letters: list[int]) -> None:
    all_at_once(letters[: PLACES - 1], boutique.pk)
    for attempt in range(5):
        pair = letters[PLACES + 2 * attempt : PLACES + 2 * attempt + 2]
        told = all_at_once(pair, boutique.pk)
        assert sorted(told) == ["just taken", f"seat {PLACES}"]
        assert seats() == list(range(1, PLACES + 1))
        last = Visit.objects.get(seat=PLACES, state="booked")
        actions.cancel(last, ask_again=FRIDAY, form_key=None, on=TODAY, now=NOW)


def test_a_form_that_arrives_five_times_at_once_is_one_visit(boutique: Boutique, letters: list[int]) -> None:
    letter, form = Letter.objects.get(pk=letters[0]), uuid4()
    piece = letter.reminders.get().piece

    def tap(_number: int) -> int:
        try:
            return actions.book(letter, [piece], Wish(boutique, FRIDAY, time(10)), form_key=form, on=TODAY, now=NOW).pk
        finally:
            connections.close_all()

    with ThreadPoolExecutor(5) as taps:
        assert len(set(taps.map(tap, range(5)))) == 1
    assert (Visit.objects.count(), Answer.objects.count(), VisitDeed.objects.count()) == (1, 1, 1)


def test_two_owners_who_move_to_the_same_place_at_once_leave_one_where_it_was(
    boutique: Boutique, letters: list[int]
) -> None:
    boutique.opening_hours.update(places=1)
    for letter, at in zip(letters, (time(10), time(10, 30)), strict=False):
        assert ask_for_a_place(letter, boutique.pk, at) == "seat 1"

    def move(visit: Visit) -> str:
        try:
            wish = Wish(boutique, FRIDAY, time(11))
            return f"{actions.move(visit, wish, form_key=uuid4(), on=TODAY, now=NOW).at:%H:%M}"
        except JustTaken:
            return "just taken"
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as owners:
        told = sorted(owners.map(move, Visit.objects.order_by("pk")))
    assert told == ["11:00", "just taken"]
    assert Visit.objects.filter(at=time(11)).count() == 1
    assert Visit.objects.filter(state="booked").count() == 2
