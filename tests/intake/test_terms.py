"""The house's usual time and price: the promise skips closed days, a guarantee pays for faults, amounts are exact."""

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from service_center.access.models import Trail
from service_center.book.rules import Complexity
from service_center.guarantee.rules import CoveredBy
from service_center.intake import money
from service_center.intake.models import Closure, OpeningHours, TermOfHouse
from service_center.intake.rules import Asked, Estimate, Price, UsualTerm, estimate_of, promised_day, usual_days
from service_center.intake.terms.offering import offer_of_house
from service_center.intake.terms.queries import Days, table, terms_for, usual_day
from service_center.intake.visits.actions import set_region
from service_center.workshop.calendars.actions import add_holiday, keep_place, work_on_holiday
from tests.factories import BoutiqueFactory, CalibreFactory, PieceFactory, WatchModelFactory

MONDAY = date(2026, 3, 2)
TERMS = {asked: UsualTerm(number, Decimal(number) * 10) for number, asked in enumerate(Asked, start=1)}


def always(_day):
    return True


def weekdays(day):
    return day.weekday() < 5


@pytest.mark.parametrize(
    ("days", "promised"), [(0, date(2026, 3, 2)), (1, date(2026, 3, 3)), (4, date(2026, 3, 6)), (5, date(2026, 3, 9)), (25, date(2026, 4, 6))]
)  # fmt: skip
def test_working_days_are_counted_from_the_day_after(days, promised):
    assert promised_day(MONDAY, days, is_worked=weekdays, is_open=always) == promised


def test_a_promise_falls_on_a_day_when_the_boutique_is_open():
    assert promised_day(MONDAY, 4, is_worked=weekdays, is_open=lambda day: day.weekday() == 2) == date(2026, 3, 11)


def test_a_boutique_that_never_opens_promises_the_working_day():
    assert promised_day(MONDAY, 4, is_worked=weekdays, is_open=lambda _day: False) == date(2026, 3, 6)


@pytest.mark.parametrize("days", [-1, 401])
def test_days_beyond_reason_are_refused(days):
    with pytest.raises(ValueError, match="working days"):
        promised_day(MONDAY, days, is_worked=weekdays, is_open=always)


def test_all_that_is_asked_is_done_side_by_side_the_longest_decides():
    assert usual_days([Asked.OVERHAUL, Asked.STRAP], TERMS) == max(TERMS[Asked.OVERHAUL].days, TERMS[Asked.STRAP].days)
    assert usual_days([], TERMS) == 0


@pytest.mark.parametrize("covered_by", [CoveredBy.BASE, CoveredBy.EXTENSION, CoveredBy.WORK])
def test_a_guarantee_pays_for_faults_and_not_for_wear_or_the_regular_overhaul(covered_by):
    estimate = estimate_of(list(Asked), TERMS, covered_by, currency="EUR")
    free = {line.asked for line in estimate.lines if line.because is Price.GUARANTEE}
    assert free == {Asked.CHECK, Asked.REPAIR}
    assert all((line.amount == 0) == (line.asked in free) for line in estimate.lines)


def test_without_a_guarantee_the_table_counts_and_an_open_price_leaves_the_sum_open():
    estimate = estimate_of(
        [Asked.STRAP, Asked.CHECK], {**TERMS, Asked.STRAP: UsualTerm(2)}, CoveredBy.NONE, currency="EUR"
    )
    assert [(line.asked, line.amount) for line in estimate.lines] == [(Asked.CHECK, Decimal(20)), (Asked.STRAP, None)]
    assert not estimate.is_whole
    assert Estimate.from_record(estimate.record()) == estimate


@pytest.mark.parametrize(
    ("typed", "amount"),
    [("", None), ("1200", "1200.00"), ("1'200.50", "1200.50"), ("1 200,50", "1200.50"), ("1.200,5", "1200.50"), ("1,200", "1200.00"), ("0", "0.00"), ("1,234,567.89", "1234567.89")],
)  # fmt: skip
def test_an_amount_is_read_as_people_write_it(typed, amount):
    found = money.amount_or_none(typed, "EUR")
    assert (None if found is None else str(found)) == amount


@pytest.mark.parametrize("typed", ["-1", "a lot", "1e9", "NaN", "٣", "1.2.3,4x", "999999999999", "½", "++1", ".", ","])
def test_what_is_no_amount_is_refused(typed):
    with pytest.raises(ValidationError):
        money.amount_or_none(typed, "EUR")


def test_a_currency_without_decimals_takes_none():
    assert money.amount_or_none("120,000", "JPY") == 120_000
    assert money.amount_or_none("5.00", "JPY") == 5
    with pytest.raises(ValidationError, match="JPY has 0 decimals"):
        money.amount_or_none("5.50", "JPY")


@given(st.decimals(min_value=0, max_value=99_999_999, places=2))
def test_what_is_written_into_a_field_is_read_back_as_it_was(amount):
    assert money.amount_or_none(money.typed(amount, "EUR"), "EUR") == amount


@given(st.text(max_size=30))
def test_anything_typed_is_an_amount_or_refused(text):
    try:
        found = money.amount_or_none(text, "EUR")
    except ValidationError:
        return
    assert found is None or 0 <= found <= money.MOST


@pytest.mark.django_db
def test_a_promise_leaves_out_the_days_on_which_the_boutique_is_closed():
    boutique = BoutiqueFactory(country="GB")
    assert usual_day(boutique, MONDAY, 5) == date(2026, 3, 9)
    Closure.objects.create(
        boutique=boutique, first_day=date(2026, 3, 4), last_day=date(2026, 3, 5), reason="Stocktaking"
    )
    assert usual_day(boutique, MONDAY, 5) == date(2026, 3, 11)
    OpeningHours.objects.create(boutique=boutique, weekday=4, opens="10:00", closes="12:00", places=1)
    assert usual_day(boutique, MONDAY, 5) == date(2026, 3, 13)


@pytest.mark.django_db
def test_public_holidays_of_the_boutiques_country_are_left_out():
    # Good Friday is 3 April 2026; Easter Monday, 6 April, is a holiday in all of France, and not in all of Britain.
    assert usual_day(BoutiqueFactory(country="GB"), date(2026, 4, 2), 1) == date(2026, 4, 6)
    assert usual_day(BoutiqueFactory(country="FR"), date(2026, 4, 3), 1) == date(2026, 4, 7)


@pytest.mark.django_db
def test_where_the_workshop_stands_its_own_public_holidays_count_for_the_counter_too():
    friday, monday, tuesday = date(2026, 6, 5), date(2026, 6, 8), date(2026, 6, 9)
    keep_place(country="GB", subdivision="ENG", time_zone="Europe/London", as_of=MONDAY, by=None)
    here, abroad = BoutiqueFactory(country="GB"), BoutiqueFactory(country="FR")
    set_region(here, "ENG", by=None)
    assert usual_day(here, friday, 1) == monday
    add_holiday(monday, "The house's jubilee", by=None)
    assert usual_day(here, friday, 1) == tuesday
    assert usual_day(abroad, friday, 1) == monday
    assert offer_of_house(friday, Asked.STRAP, Complexity.SIMPLE).usual_day == Days.of(here, friday).after(
        friday, table()[Asked.STRAP, Complexity.SIMPLE].days
    )
    work_on_holiday(monday, works=True, by=None)
    assert usual_day(here, friday, 1) == monday


@pytest.mark.django_db
def test_the_desks_table_counts_and_what_it_left_out_keeps_the_usual_days():
    TermOfHouse.objects.create(asked="overhaul", complexity="chronograph", days=50, price=Decimal("990.00"))
    piece = PieceFactory(model=WatchModelFactory(calibre=CalibreFactory(complexity="chronograph")))
    assert terms_for(piece)[Asked.OVERHAUL] == UsualTerm(50, Decimal("990.00"))
    assert terms_for(PieceFactory(model=None))[Asked.OVERHAUL] == UsualTerm(25)


@pytest.fixture
def sent(signed_in):
    """What the desk's page sends back, unless the sentence says otherwise."""
    desk = signed_in("desk")
    seen = desk.get(reverse("intake:usual_terms")).context["form"]["seen"].value()

    def send(**fields):
        usual = {f"{asked}-{one}-days": term.days for (asked, one), term in table().items()}
        return desk.post(reverse("intake:usual_terms"), {"seen": seen, **usual, **fields})

    return send


@pytest.mark.django_db
def test_the_desk_writes_its_table_and_only_what_differs_is_kept(sent):
    assert sent(**{"overhaul-simple-price": "480,00", "strap-simple-days": "1"}).status_code == 302
    assert TermOfHouse.objects.count() == 2
    assert table()[Asked.OVERHAUL, Complexity.SIMPLE] == UsualTerm(20, Decimal("480.00"))
    assert Trail.objects.get(deed="keep_terms").after["overhaul/simple"] == [20, "480.00"]


@pytest.mark.django_db
def test_a_table_that_somebody_else_changed_meanwhile_is_not_overwritten(sent):
    TermOfHouse.objects.create(asked="strap", complexity="simple", days=9)
    answer = sent(**{"strap-simple-days": "1"})
    assert "Somebody else changed this table meanwhile." in answer.content.decode()
    assert TermOfHouse.objects.get().days == 9


@pytest.mark.django_db
@pytest.mark.parametrize(
    "fields", [{"strap-simple-days": "-1"}, {"strap-simple-days": "999"}, {"strap-simple-price": "much"}]
)
def test_a_wrong_cell_is_named_and_nothing_is_kept(sent, fields):
    answer = sent(**fields)
    assert answer.status_code == 422
    assert "Strap, Simple" in answer.content.decode()
    assert not TermOfHouse.objects.exists()
