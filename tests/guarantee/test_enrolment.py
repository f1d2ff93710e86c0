"""Every boundary day of registering the extension.

Months: Regulation (EEC, Euratom) No 1182/71, Article 3(2)(c). The dates are those of design/facts.md, 5 and 6, and of
design/intake.md: sold on 29 February 2024, base to 28 February 2026, extended to 29 February 2032. Base 24 and
extension 96 months are common practice.
"""

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from django.db import DatabaseError, transaction
from hypothesis import given
from hypothesis import strategies as st

from service_center.access.models import Trail
from service_center.guarantee.actions import CannotEnrolError, NotTheOwnerError, enrol
from service_center.guarantee.models import ExtensionEnrolment
from service_center.guarantee.queries import decision_of
from service_center.guarantee.rules import CoveredBy, EnrolmentState, cover, enrolment_on
from tests.factories import OwnerFactory, PieceFactory

OPEN, ENROLLED, OVER, UNKNOWN = EnrolmentState


def day(text):
    return date.fromisoformat(text) if text else None


@pytest.mark.parametrize(
    ("sold", "enrolled", "as_of", "state"),
    [
        ("2024-02-29", None, "2024-02-28", UNKNOWN),  # before the sale it is not known
        ("2024-02-29", None, "2024-02-29", OPEN),  # on the day of sale itself
        ("2024-02-29", None, "2026-02-28", OPEN),  # the last day of the base
        ("2024-02-29", None, "2026-03-01", OVER),  # the first day after
        ("2024-02-29", "2026-02-28", "2026-02-28", ENROLLED),
        ("2024-02-29", "2026-02-28", "2033-01-01", ENROLLED),
        ("2024-02-29", "2026-03-01", "2026-03-01", OVER),  # asked for a day too late
        ("2024-02-29", "2024-02-28", "2025-01-01", OPEN),  # dated before the sale: one of the two is wrong
        ("2024-02-29", "2026-01-01", "2025-01-01", OPEN),  # a day that has not come
        ("2021-11-30", None, "2023-11-30", OPEN),
        ("2021-11-30", None, "2023-12-01", OVER),
        (None, None, "2026-06-05", UNKNOWN),
        (None, "2025-06-05", "2026-06-05", UNKNOWN),
    ],
)
def test_the_extension_can_be_had_while_the_base_runs_its_last_day_included(sold, enrolled, as_of, state):
    assert enrolment_on(day(as_of), sold_on=day(sold), enrolled_on=day(enrolled)).state is state


def test_both_ends_are_counted_in_one_step_from_the_day_of_sale():
    found = enrolment_on(date(2025, 1, 1), sold_on=date(2024, 2, 29), enrolled_on=None)
    assert (found.base_to, found.extended_to) == (date(2026, 2, 28), date(2032, 2, 29))


@given(sold=st.dates(date(2000, 1, 1), date(2090, 1, 1)), later=st.integers(0, 900))
def test_whoever_may_register_is_covered_for_it_and_nobody_else(sold, later):
    """Against python-dateutil's months, and against the decision about cover: one promise, two doors."""
    on = sold + relativedelta(days=later)
    state = enrolment_on(on, sold_on=sold, enrolled_on=None).state
    assert (state is OPEN) == (on <= sold + relativedelta(months=24))
    last = sold + relativedelta(months=96)
    decision = cover(sold_on=sold, extension_enrolled_on=on, history=[], as_of=last, is_working_day=lambda _day: True)
    assert (decision.of(CoveredBy.EXTENSION) is not None) == (state is OPEN)


def register(piece, on, **changed):
    said = {"owner": piece.owner, "language": "en", "conditions": "As told.", "by": None, "reason": "By the owner."}
    return enrol(piece, on=day(on), **(said | changed))


@pytest.mark.django_db
def test_registering_is_kept_with_its_day_and_words_and_covers_at_once():
    piece = PieceFactory(sold_on=date(2024, 2, 29))
    assert register(piece, "2026-02-28") is True
    piece.refresh_from_db()
    assert piece.extension_enrolled_on == date(2026, 2, 28)
    kept = ExtensionEnrolment.objects.get(piece=piece)
    assert (kept.conditions, kept.base_to, kept.extended_to) == ("As told.", date(2026, 2, 28), date(2032, 2, 29))
    assert decision_of(piece, date(2026, 3, 1), country="GB").covered_by is CoveredBy.EXTENSION
    trail = Trail.objects.get(deed="enrol_extension")
    assert (trail.before, trail.after["extension_enrolled_on"]) == ({"extension_enrolled_on": None}, "2026-02-28")


@pytest.mark.django_db
def test_registered_twice_it_is_registered_once():
    piece = PieceFactory(sold_on=date(2024, 2, 29))
    assert [register(piece, on) for on in ("2025-05-05", "2025-05-06")] == [True, False]
    piece.refresh_from_db()
    assert piece.extension_enrolled_on == date(2025, 5, 5)
    assert Trail.objects.filter(deed="enrol_extension").count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize(("sold", "on", "state"), [("2024-02-29", "2026-03-01", OVER), (None, "2026-03-01", UNKNOWN)])
def test_too_late_or_without_a_day_of_sale_it_is_refused_and_nothing_is_written(sold, on, state):
    piece = PieceFactory(sold_on=day(sold))
    with pytest.raises(CannotEnrolError) as refused:
        register(piece, on)
    assert refused.value.state is state
    piece.refresh_from_db()
    assert piece.extension_enrolled_on is None
    assert not ExtensionEnrolment.objects.exists()


@pytest.mark.django_db
def test_nobody_registers_a_piece_that_is_not_theirs():
    piece = PieceFactory(sold_on=date(2024, 2, 29))
    with pytest.raises(NotTheOwnerError):
        register(piece, "2025-05-05", owner=OwnerFactory())
    assert not ExtensionEnrolment.objects.exists()


@pytest.mark.django_db
def test_a_registration_that_the_book_lost_is_taken_up_again_with_its_own_day():
    """An older pieces.csv was read in over it."""
    piece = PieceFactory(sold_on=date(2024, 2, 29))
    register(piece, "2025-05-05")
    piece.extension_enrolled_on = None
    piece.save()
    assert register(piece, "2026-01-10") is True
    piece.refresh_from_db()
    assert piece.extension_enrolled_on == date(2025, 5, 5)


@pytest.mark.django_db
def test_what_was_agreed_cannot_be_changed():
    piece = PieceFactory(sold_on=date(2024, 2, 29))
    register(piece, "2025-05-05")
    for deed in (
        lambda: ExtensionEnrolment.objects.update(conditions="Otherwise."),
        lambda: ExtensionEnrolment.objects.all().delete(),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            deed()
    assert ExtensionEnrolment.objects.get().conditions == "As told."
