"""Which findings a guarantee covers: the house's table, staff's own decisions, terms over time."""

from datetime import date
from uuid import uuid4

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.urls import reverse

from service_center.access.models import Trail
from service_center.book.rules import DoneBy, EntryKind
from service_center.guarantee.actions import NeedsAReasonError, keep_decision, set_table, set_terms
from service_center.guarantee.finding_words import because, names
from service_center.guarantee.models import CoverDecision
from service_center.guarantee.queries import decision_of, house_table, terms_of
from service_center.guarantee.rules import (
    HOUSE_TABLE,
    HOUSE_TERMS,
    CoveredBy,
    DatedTerms,
    Finding,
    Reason,
    Row,
    Terms,
    Work,
    cover,
    decide,
    terms_on,
)
from tests.factories import PieceFactory, StaffFactory, history


def decision(as_of, *, sold="2024-02-29", enrolled=None, worked=None):
    done = [Work(date.fromisoformat(worked), EntryKind.REPAIR, True, DoneBy.OWN)] if worked else []
    return cover(
        sold_on=date.fromisoformat(sold) if sold else None,
        extension_enrolled_on=date.fromisoformat(enrolled) if enrolled else None,
        history=done,
        as_of=date.fromisoformat(as_of),
        is_working_day=lambda _day: True,
    )


# A sale on 29 February 2024: base to 28 February 2026, extended to 29 February 2032 (design/intake.md).
@pytest.mark.parametrize(
    ("as_of", "enrolled", "by"),
    [
        ("2024-02-29", None, CoveredBy.BASE),
        ("2026-02-28", None, CoveredBy.BASE),
        ("2026-03-01", None, CoveredBy.NONE),
        ("2026-02-28", "2026-02-28", CoveredBy.BASE),
        ("2026-03-01", "2026-02-28", CoveredBy.EXTENSION),
        ("2026-03-01", "2026-03-01", CoveredBy.NONE),
        ("2032-02-29", "2024-02-29", CoveredBy.EXTENSION),
        ("2032-03-01", "2024-02-29", CoveredBy.NONE),
    ],
)
def test_a_fault_of_manufacture_is_covered_to_the_last_day_and_not_after(as_of, enrolled, by):
    said = decide(Finding.MANUFACTURE, decision(as_of, enrolled=enrolled))
    assert (said.covered, said.by) == (by is not CoveredBy.NONE, by)


def test_without_a_day_of_sale_only_our_own_work_is_covered():
    assert not decide(Finding.MANUFACTURE, decision("2026-03-01", sold=None)).covered
    worked = decision("2026-03-01", sold=None, worked="2025-06-01")
    assert decide(Finding.OUR_WORK, worked).by is CoveredBy.WORK
    assert not decide(Finding.MANUFACTURE, worked).covered


@pytest.mark.parametrize("finding", [
    Finding.WEAR, Finding.ACCIDENT, Finding.OPENED_BY_OTHERS, Finding.WATER_AFTER_MISSED_CHECK, Finding.CELL,
])  # fmt: skip
def test_wear_accident_other_hands_and_missed_checks_are_not_covered(finding):
    assert not decide(finding, decision("2025-01-01")).covered


def test_where_two_run_the_one_that_covers_the_finding_is_named():
    both = decision("2027-01-01", enrolled="2025-01-01", worked="2026-06-01")
    assert decide(Finding.OUR_WORK, both).by is CoveredBy.WORK
    assert decide(Finding.MANUFACTURE, both).by is CoveredBy.EXTENSION


@pytest.mark.parametrize("finding", Finding)
def test_each_finding_has_a_name_and_a_reason_whatever_runs(finding):
    for as_of in ("2025-01-01", "2030-01-01"):
        said = decide(finding, decision(as_of))
        assert names()[finding]
        assert because(said, HOUSE_TABLE[finding])


def test_the_houses_own_words_stand_before_the_usual_ones():
    row = Row(base=True, extension=True, work=False, reason="Straps too, in the first year.")
    said = decide(Finding.WEAR, decision("2025-01-01"), {**HOUSE_TABLE, Finding.WEAR: row})
    assert said.covered
    assert because(said, row) == "Straps too, in the first year."


@pytest.mark.django_db
def test_staff_may_decide_otherwise_with_a_reason_that_is_kept():
    piece, by = PieceFactory(sold_on=date(2025, 1, 1)), StaffFactory()
    known = {"reported_on": date(2026, 3, 2), "order": "R-000001", "country": "GB", "by": by}
    with pytest.raises(NeedsAReasonError):
        keep_decision(piece, Finding.WEAR, covered=True, reason=" ", form_key=uuid4(), **known)
    key = uuid4()
    for _tap in range(2):
        kept = keep_decision(piece, Finding.WEAR, covered=True, reason="A gesture.", form_key=key, **known)
    assert CoverDecision.objects.count() == 1
    assert (kept.by_table, kept.covered, kept.reason) == (False, True, "A gesture.")
    assert kept.record["covered_by"] == "base"
    trail = Trail.objects.get(deed="decide_cover")
    assert (trail.by, trail.reason, trail.before["by_table"]) == (by, "A gesture.", False)


@pytest.mark.django_db
def test_the_database_keeps_decisions_and_their_reasons():
    piece = PieceFactory(sold_on=date(2025, 1, 1))
    kept = keep_decision(
        piece, Finding.WEAR, reported_on=date(2026, 3, 2), covered=None, reason="", order="", country="",
        form_key=uuid4(), by=StaffFactory(),
    )  # fmt: skip
    with pytest.raises(DatabaseError, match="holds facts"), transaction.atomic():
        CoverDecision.objects.update(covered=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        CoverDecision.objects.create(
            form_key=uuid4(), piece=piece, finding="wear", reported_on=kept.reported_on, by_table=False, covered=True,
            covered_by="none", record={}, decided_by=kept.decided_by,
        )  # fmt: skip


@pytest.mark.django_db
def test_the_houses_table_is_its_own_and_the_trail_has_both_states():
    row = Row(base=True, extension=False, work=False, reason="")
    set_table({**HOUSE_TABLE, Finding.MAGNETISM: row}, by=StaffFactory())
    assert house_table()[Finding.MAGNETISM] == row
    assert house_table()[Finding.WEAR] == HOUSE_TABLE[Finding.WEAR]
    assert Trail.objects.get(deed="set_finding_table").before == {
        "magnetism": {"base": False, "extension": False, "work": False, "reason": ""}
    }
    set_table(HOUSE_TABLE, by=StaffFactory())
    assert house_table() == HOUSE_TABLE


def test_what_was_sold_keeps_the_terms_of_its_day():
    longer = DatedTerms(date(2025, 1, 1), Terms(base_months=36, extended_months=120))
    assert terms_on(date(2024, 12, 31), [longer]) == HOUSE_TERMS
    assert terms_on(date(2025, 1, 1), [longer]).base_months == 36


@pytest.mark.django_db
def test_new_months_hold_for_what_is_sold_from_their_day():
    set_terms(Terms(36, 120, 12), from_on=date(2025, 1, 1), by=StaffFactory())
    old, new = PieceFactory(sold_on=date(2024, 12, 31)), PieceFactory(sold_on=date(2025, 1, 1))
    assert decision_of(old, date(2026, 12, 31), country="").of(CoveredBy.BASE).to_on == date(2026, 12, 31)
    assert decision_of(new, date(2026, 12, 31), country="").of(CoveredBy.BASE).to_on == date(2028, 1, 1)
    assert (terms_of(old).base_months, terms_of(new).base_months) == (24, 36)
    history(new, "2025-06-01", kind="repair")
    assert decision_of(new, date(2026, 12, 31), country="").of(CoveredBy.WORK).to_on == date(2026, 6, 1)


# Extension from 1 March 2026; the house asks for a passed check every 12 months.
@pytest.mark.parametrize(
    ("checks", "as_of", "by", "reason"),
    [
        (("2025-12-01",), "2026-12-01", CoveredBy.EXTENSION, Reason.EXTENSION_RUNS),
        (("2025-12-01",), "2026-12-02", CoveredBy.NONE, Reason.CHECK_MISSED),
        (("2025-12-01", "2026-12-01"), "2027-12-01", CoveredBy.EXTENSION, Reason.EXTENSION_RUNS),
        (("2025-12-01", "2026-12-02"), "2027-01-01", CoveredBy.NONE, Reason.CHECK_MISSED),
        ((), "2026-03-01", CoveredBy.EXTENSION, Reason.EXTENSION_RUNS),
        ((), "2026-03-02", CoveredBy.NONE, Reason.CHECK_MISSED),
    ],
)
def test_a_house_that_asks_for_the_yearly_check_ends_the_extension_without_it(checks, as_of, by, reason):
    done = [
        Work(date.fromisoformat(day), EntryKind.TIGHTNESS_CHECK, False, DoneBy.OWN, passed_check=True) for day in checks
    ]
    said = cover(
        sold_on=date(2024, 2, 29), extension_enrolled_on=date(2025, 1, 1), history=done,
        as_of=date.fromisoformat(as_of), is_working_day=lambda _day: True,
        dated=[DatedTerms(date(2020, 1, 1), Terms(check_months=12))], rated=True,
    )  # fmt: skip
    assert (said.covered_by, said.reason) == (by, reason)


def test_an_unrated_model_needs_no_check():
    said = cover(
        sold_on=date(2024, 2, 29), extension_enrolled_on=date(2025, 1, 1), history=[], as_of=date(2030, 1, 1),
        is_working_day=lambda _day: True, dated=[DatedTerms(date(2020, 1, 1), Terms(check_months=12))],
    )  # fmt: skip
    assert said.covered_by is CoveredBy.EXTENSION


@pytest.mark.django_db
def test_the_desk_reads_each_finding_on_the_day_it_was_reported_and_decides(signed_in):
    piece = PieceFactory(sold_on=date(2024, 2, 29), owner__country="GB")
    desk = signed_in("desk")
    page = desk.get(reverse("guarantee:piece", args=[piece.pk]), {"reported_on": "2026-02-28"}).content.decode()
    for said in ("The guarantee covers faults of manufacture.", "28 February 2026 is no working day.",
                 "These parts wear with use", "Your rights under the law stand beside"):  # fmt: skip
        assert said in page
    assert "no working day; the next is" not in page, "said once"
    where = reverse("guarantee:decide", args=[piece.pk])
    said = {"form_key": str(uuid4()), "reported_on": "2026-02-28", "finding": "wear", "covered": "yes", "reason": ""}
    refused = desk.post(where, said)
    assert refused.status_code == 422
    assert "say why" in refused.content.decode()
    page = desk.post(where, {**said, "reason": "A gesture to an old friend."}, follow=True).content.decode()
    assert "A gesture to an old friend." in page
    assert "otherwise than the table" in page
    wrong = desk.get(reverse("guarantee:piece", args=[piece.pk]), {"reported_on": "2026-02-30"})
    assert wrong.status_code == 422


@pytest.mark.django_db
def test_the_desk_edits_months_and_table(signed_in):
    desk = signed_in("desk")
    where = reverse("guarantee:house")
    months = {
        "deed": "terms",
        "from_on": "2027-01-01",
        "base_months": "36",
        "extended_months": "24",
        "work_months": "12",
    }
    assert "cannot be the shorter one" in desk.post(where, months).content.decode()
    assert desk.post(where, {**months, "extended_months": "120", "check_months": "12"}).status_code == 302
    assert desk.post(where, {"deed": "table", "wear-base": "on", "wear-reason": "First year."}).status_code == 302
    assert house_table()[Finding.WEAR] == Row(True, False, False, "First year.")
    assert house_table()[Finding.MANUFACTURE] == Row(False, False, False, "")
    assert signed_in("boutique").get(where).status_code == 403
