"""The day that the counter offers: from the benches where there are benches, else the house's usual time."""

import io
import json
from collections.abc import Callable
from datetime import date, time

import pytest
import time_machine
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.test import Client

from service_center.book.models import Boutique, Piece
from service_center.book.rules import EntryKind
from service_center.intake.models import Closure, OpeningHours
from service_center.intake.rules import Asked
from service_center.intake.terms.offering import offer_for
from service_center.planning.models import SkillHours
from service_center.planning.queries.promising import NoQuote
from service_center.workshop.models import WorkOrder
from service_center.workshop.orders.actions import change_kind
from tests.factories import BoutiqueFactory, CalibreFactory, PieceFactory, StaffFactory, WatchModelFactory

MONDAY = date(2026, 3, 2)
NEXT_MONDAY, TUESDAY_AFTER = date(2026, 3, 9), date(2026, 3, 10)


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    cache.clear()


@pytest.fixture
def here(db: None) -> Boutique:
    made: Boutique = BoutiqueFactory(country="CH")
    return made


@pytest.fixture
def piece(here: Boutique) -> Piece:
    model = WatchModelFactory(calibre=CalibreFactory(complexity="automatic"), rated_bar=10)
    made: Piece = PieceFactory(model=model, boutique=here)
    return made


@pytest.fixture
def benches(db: None) -> None:
    SkillHours.objects.create(skill="automatic", hours_a_week=40)


@pytest.mark.usefixtures("benches")
def test_where_there_are_benches_their_day_is_offered_with_the_usual_one_beside_it(
    piece: Piece, here: Boutique
) -> None:
    offer = offer_for(piece, here, MONDAY, [Asked.OVERHAUL])
    assert (offer.half_by, offer.nine_in_ten_by, offer.day) == (NEXT_MONDAY, NEXT_MONDAY, NEXT_MONDAY)
    assert (offer.usual_days, offer.usual_day, offer.why_not) == (25, date(2026, 4, 6), None)


@pytest.mark.usefixtures("benches")
def test_the_day_falls_on_one_when_the_boutique_is_open(piece: Piece, here: Boutique) -> None:
    for weekday in (1, 2):
        OpeningHours.objects.create(boutique=here, weekday=weekday, opens=time(10), closes=time(18), places=1)
    assert offer_for(piece, here, MONDAY, [Asked.OVERHAUL]).day == TUESDAY_AFTER
    Closure.objects.create(boutique=here, first_day=TUESDAY_AFTER, last_day=TUESDAY_AFTER)
    assert offer_for(piece, here, MONDAY, [Asked.OVERHAUL]).day == date(2026, 3, 11)


@pytest.mark.usefixtures("benches")
def test_of_all_that_is_asked_the_greatest_work_is_worked_out(piece: Piece, here: Boutique) -> None:
    assert offer_for(piece, here, MONDAY, [Asked.STRAP, Asked.OVERHAUL]).day == NEXT_MONDAY
    assert offer_for(piece, here, MONDAY, [Asked.CHECK]).day == date(2026, 3, 4)


def test_without_benches_the_usual_day_stands_with_the_reason(piece: Piece, here: Boutique) -> None:
    offer = offer_for(piece, here, MONDAY, [Asked.OVERHAUL])
    assert (offer.day, offer.nine_in_ten_by, offer.why_not) == (offer.usual_day, None, NoQuote.NO_BENCHES)


@pytest.mark.usefixtures("benches")
@time_machine.travel("2026-03-02T10:00:00Z", tick=False)
def test_the_promise_step_offers_it_and_the_order_keeps_both_days(
    piece: Piece, here: Boutique, signed_in: Callable[..., Client], counter_of: Callable[..., object]
) -> None:
    counter = counter_of(signed_in("boutique", here.code))
    counter.begin(piece)  # type: ignore[attr-defined]
    counter.say_all()  # type: ignore[attr-defined]
    page = counter.see("promise")  # type: ignore[attr-defined]
    assert "By <strong>Monday, 9 March</strong> nine in ten such orders would be back here." in page
    assert "0 orders that come before it" in page
    assert "usual time is 25 working days" in page
    counter.say(  # type: ignore[attr-defined]
        "promise", promised_on="2026-03-12", quoted_on="2026-03-09", **{"overhaul-later": "on"}
    )
    counter.sign()  # type: ignore[attr-defined]
    order = WorkOrder.objects.get(piece=piece)
    assert (order.promised_on, order.quoted_on) == (date(2026, 3, 12), NEXT_MONDAY)


@time_machine.travel("2026-03-02T10:00:00Z", tick=False)
def test_without_benches_the_promise_step_says_so_and_the_order_has_no_quote(
    piece: Piece, here: Boutique, signed_in: Callable[..., Client], counter_of: Callable[..., object]
) -> None:
    counter = counter_of(signed_in("boutique", here.code))
    counter.begin(piece)  # type: ignore[attr-defined]
    counter.say_all()  # type: ignore[attr-defined]
    page = counter.see("promise")  # type: ignore[attr-defined]
    assert "The house's usual time for this is 25 working days." in page
    assert "the book has no watchmakers and no bench hours yet" in page
    counter.sign()  # type: ignore[attr-defined]
    order = WorkOrder.objects.get(piece=piece)
    assert (order.promised_on, order.quoted_on) == (date(2026, 4, 6), None)


# --- promise_date, to the letter of design/outside.md ---------------------------------------------


def run(*arguments: str) -> tuple[str, str]:
    out, err = io.StringIO(), io.StringIO()
    call_command("promise_date", "--as-of", "2026-03-02", *arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


@pytest.mark.usefixtures("benches")
def test_the_command_prints_one_document_and_nothing_else() -> None:
    out, err = run("--complexity", "automatic", "--kind", "overhaul", "--json")
    assert json.loads(out) == {"half_by": "2026-03-09", "nine_in_ten_by": "2026-03-09", "orders_before": 0}
    assert err == ""


@pytest.mark.usefixtures("benches")
def test_tightness_is_a_tightness_check() -> None:
    documents = [
        run("--complexity", "automatic", "--kind", kind, "--json") for kind in ("tightness", "tightness_check")
    ]
    assert documents[0] == documents[1]
    assert json.loads(documents[0][0])["nine_in_ten_by"] == "2026-03-04"


@pytest.mark.usefixtures("benches")
def test_an_order_in_the_house_counts(piece: Piece, here: Boutique, take: Callable[..., object]) -> None:
    take(piece)
    assert json.loads(run("--complexity", "automatic", "--kind", "overhaul", "--json")[0])["orders_before"] == 1


@pytest.mark.usefixtures("benches")
def test_days_of_no_boutique_in_particular_are_worked_ones() -> None:
    late = io.StringIO()
    call_command(
        "promise_date",
        "--as-of",
        "2026-03-05",
        "--complexity",
        "automatic",
        "--kind",
        "tightness",
        "--json",
        stdout=late,
    )
    # There on Friday, tested, and back on Saturday: the owner is told Monday.
    assert json.loads(late.getvalue())["nine_in_ten_by"] == "2026-03-09"


@pytest.mark.django_db
@pytest.mark.parametrize(("kind", "day"), [("overhaul", "2026-04-06"), ("strap", "2026-03-04")])
def test_without_benches_it_gives_the_usual_day_and_says_so(kind: str, day: str) -> None:
    out, err = run("--complexity", "automatic", "--kind", kind, "--json")
    assert json.loads(out) == {"half_by": day, "nine_in_ten_by": day, "orders_before": 0}
    assert "usual time" in err


@pytest.mark.django_db
def test_people_read_it_too() -> None:
    assert "nine in ten by   2026-04-06" in run("--complexity", "automatic", "--kind", "overhaul")[0]


@pytest.mark.django_db
@pytest.mark.parametrize(
    "arguments",
    [
        ["--complexity", "easy", "--kind", "overhaul"],
        ["--complexity", "simple", "--kind", "polish"],
        ["--complexity", "simple"],
        ["--complexity", "simple", "--kind", "overhaul", "--as-of", "soon"],
        ["--complexity", "simple", "--kind", "overhaul", "--as-of", "9999-12-30"],
    ],
)
def test_unusable_arguments_are_refused_by_name(arguments: list[str]) -> None:
    with pytest.raises(CommandError, match="--"):
        run(*arguments)


@pytest.mark.usefixtures("benches")
def test_a_day_on_which_an_order_had_another_plan_is_refused_by_the_order_s_number(
    piece: Piece, take: Callable[..., object]
) -> None:
    with time_machine.travel("2026-03-02T10:00:00Z"):
        take(piece)
    order = WorkOrder.objects.get(piece=piece)
    WorkOrder.objects.filter(pk=order.pk).update(opened_on=MONDAY)
    with time_machine.travel("2026-03-05T10:00:00Z"):
        change_kind(order, EntryKind.REPAIR, why="the crown is bent", by=StaffFactory(role="watchmaker"))
    with pytest.raises(CommandError, match=f"argument --as-of: .*planned anew later: {order.number}") as refused:
        run("--complexity", "automatic", "--kind", "overhaul", "--json")
    assert refused.value.returncode == 2
