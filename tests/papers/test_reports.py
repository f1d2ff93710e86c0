"""Service report, guarantee card, estimate: whole, in each language and script, on both papers."""

import io
import logging
from datetime import UTC, date, datetime
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from service_center.bench import queries
from service_center.bench.actions import Sitting, add_result, record_sheet
from service_center.bench.actions import Tested as Shown
from service_center.bench.pictures import Named, of_two_sheets
from service_center.bench.report import _tests, service_report
from service_center.guarantee.estimate import Estimate, Line
from service_center.guarantee.papers import estimate, guarantee_card
from service_center.intake.actions import take_in
from service_center.intake.rules import Asked
from service_center.measurements.actions import begin_run
from service_center.measurements.rules.tightness import TightnessTest
from service_center.papers.rules import PageSize
from tests.bench_pages.conftest import _the_day, as_read, stay_of  # noqa: F401  # the day is a fixture
from tests.factories import HistoryEntryFactory, OwnerFactory, PieceFactory, StaffFactory
from tests.measurements.test_sheet import SIX, sheet
from tests.papers.test_render import NAMES, fonts_of

pytestmark = pytest.mark.django_db
LANGUAGES = {
    "en": ("Service report", "Guarantee card", "Estimate"),
    "de": ("Servicebericht", "Garantiekarte", "Kostenvoranschlag"),
    "fr": ("Rapport d’intervention", "Carte de garantie", "Devis"),
    "it": ("Rapporto di assistenza", "Certificato di garanzia", "Preventivo"),
    "es": ("Informe de servicio", "Tarjeta de garantía", "Presupuesto"),
    "ja": ("作業報告書", "保証書", "お見積書"),
}
MADE = Estimate(
    number="E-000042",
    made_on=date(2026, 10, 6),
    valid_until=date(2026, 11, 6),
    currency="CHF",
    lines=[
        Line("Overhaul", Decimal("640.00")),
        Line("Gaskets", Decimal("85.50"), covered=True, because="Guarantee on our work."),
        Line("New hands", None),
    ],
)


def piece_of(language="en", name="Ada Winter"):
    return as_read(PieceFactory(owner=OwnerFactory(language=language, name=name), sold_on=date(2025, 12, 25)))


def papers_of(piece, size=PageSize.A4):
    return (
        service_report(piece, stay_of(piece), size=size),
        guarantee_card(piece, as_of=date(2026, 11, 25), country="GB", size=size),
        estimate(piece, MADE, size=size),
    )


def text_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_a_report_has_intake_beside_hand_back_with_limits_tests_and_pictures():
    piece = piece_of()
    pdf = service_report(piece, stay_of(piece), size=PageSize.A4)
    text = text_of(pdf)
    for said in (
        "Taken in on 5 October 2026", "Handed back on 20 November 2026", "Dial up (CH) −5.0 +4.0 225 285 0.20 0.20",
        "Mean rate −7.8 s/d +1.2 s/d −5 to 15 s/d within", "Lowest amplitude, upright 192° 252° at least 240° within",
        "In water, under pressure 10 bar (100 m of the marking), 10 min passed", "Final control, cased 44 h 42 h reached",
        "From 20 November 2026 to 20 November 2028", "Your rights under the law stand beside", "They are no certificate.",
    ):  # fmt: skip
        assert said in text, said
    assert "For the house alone." not in text
    assert "certified" not in text
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 2


def test_a_stay_without_work_shows_neither_an_earlier_guarantee_nor_readings_that_were_not_taken():
    piece = piece_of()
    stay_of(piece)  # overhauled, with a guarantee on that work that still runs
    by, came = StaffFactory(), date(2026, 11, 22)
    take_in(
        piece, form_key=uuid4(), boutique=piece.boutique, by=by, taken_on=came,
        at=datetime(2026, 11, 22, 9, tzinfo=UTC), as_of=came, asked=[Asked.CHECK], owner_says="", left_with="", sitting=None,
    )  # fmt: skip
    run = begin_run(piece, form_key=uuid4(), on=came, by=by)
    add_result(run, TightnessTest.LOOK, Shown(False, None, None, None, ""), by=by, as_of=came)
    read = Sitting(sheet(SIX), date(2026, 11, 24), "Bench 2", Decimal(52), Decimal(22), False, "")
    record_sheet(piece, read, form_key=uuid4(), by=by, as_of=date(2026, 11, 24))
    stay = queries.stays_of(piece, queries.judged_sheets(piece))[0]
    text = text_of(service_report(piece, stay, size=PageSize.A4))
    assert "Taken in on 22 November 2026" in text
    assert "Guarantee on our work" not in text
    pictures = of_two_sheets(Named("before", []), Named("after", stay.after.readings), lowest=None)
    assert [(one.one, one.two) for one in pictures] == [(False, True), (False, True)]
    [look, *_rest] = _tests(piece, stay)
    assert (look.before.state, look.after) == ("failed", None), "made on the day it came in, not when it goes back"


def test_what_was_read_or_done_after_a_piece_went_back_is_not_in_the_report_of_its_stay():
    piece = piece_of()
    before = stay_of(piece)
    later = date(2026, 11, 24)  # at a counter, without a drop-off
    HistoryEntryFactory(piece=piece, kind="tightness_check", tightness="passed", done_on=later, done_by="own")
    read = Sitting(sheet(SIX), later, "Bench 2", Decimal(52), Decimal(22), False, "")
    record_sheet(piece, read, form_key=uuid4(), by=StaffFactory(), as_of=later)
    stay = queries.stays_of(piece, queries.judged_sheets(piece))[0]
    assert [one.pk for one in stay.work] == [one.pk for one in before.work]
    assert stay.after.sheet == before.after.sheet


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_paper_is_in_the_owners_language_tagged_with_its_fonts(language, caplog):
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        made = papers_of(piece_of(language))
    assert [record.getMessage() for record in caplog.records if ".notdef" in record.getMessage()] == []
    for pdf, kind in zip(made, LANGUAGES[language], strict=True):
        reader = PdfReader(io.BytesIO(pdf))
        assert kind in text_of(pdf)
        assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
        assert reader.trailer["/Root"]["/Lang"] == language
        assert all(fonts_of(reader).values())


@pytest.mark.parametrize("script", NAMES)
def test_names_in_every_script_stand_whole_on_each_paper(script, caplog):
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        made = papers_of(piece_of(name=NAMES[script]))
    assert [record.getMessage() for record in caplog.records if ".notdef" in record.getMessage()] == []
    for pdf in made:
        text = text_of(pdf)
        if script == "Hebrew":
            assert all(word in text or word[::-1] in text for word in NAMES[script].split())
        elif script != "Arabic":  # drawn in its joined forms
            assert NAMES[script] in text


@pytest.mark.parametrize(("size", "width"), [(PageSize.A4, 595), (PageSize.LETTER, 612)])
def test_each_paper_comes_on_both_papers_and_nothing_runs_off_them(size, width):
    for pdf in papers_of(piece_of("de"), size):
        for page in PdfReader(io.BytesIO(pdf)).pages:
            assert round(float(page.mediabox.width)) == width
            beyond = []
            page.extract_text(
                visitor_text=lambda text, cm, tm, *_rest, beyond=beyond: (
                    beyond.append(text) if text.strip() and cm[0] * tm[4] + cm[4] > width - 48 else None
                )
            )
            assert beyond == []


def test_a_guarantee_card_says_both_dates_and_what_is_not_covered():
    text = text_of(guarantee_card(piece_of(), as_of=date(2026, 11, 25), country="GB", size=PageSize.A4))
    for said in ("Sold on 25 December 2025", "25 December 2027 29 December 2027", "It covers faults of manufacture.", "Opened by somebody else –",
                 "Your rights under the law"):  # fmt: skip
        assert said in text, said
    holiday = PieceFactory(sold_on=date(2023, 12, 25))
    text = text_of(guarantee_card(holiday, as_of=date(2025, 1, 2), country="DE", size=PageSize.A4))
    assert "25 December 2025 29 December 2025" in text


def test_an_estimate_adds_what_the_owner_pays_and_leaves_open_what_cannot_be_said():
    assert (MADE.total, MADE.is_open) == (Decimal("640.00"), True)
    text = text_of(estimate(piece_of(), MADE, size=PageSize.A4))
    for said in (
        "CHF 640.00",
        "covered",
        "after opening",
        "Total of what can be priced now",
        "valid until 6 November 2026",
    ):
        assert said in text.replace("\N{NO-BREAK SPACE}", " "), said


@pytest.mark.parametrize("price", ["-1", "NaN", "Infinity"])
def test_a_price_that_cannot_be_is_refused(price):
    with pytest.raises(ValueError, match="a price is 0 or more"):
        Line("x", Decimal(price))


prices = st.decimals(0, 100_000, places=2)


@given(st.lists(st.tuples(prices, st.booleans()), max_size=12))
def test_a_total_is_the_sum_in_cents_of_what_is_not_covered(lines):
    made = Estimate("E", date(2026, 1, 1), date(2026, 2, 1), "CHF", [Line("x", price, free) for price, free in lines])
    assert made.total * 100 == sum(int(price * 100) for price, free in lines if not free)


def test_the_report_is_reached_from_the_pieces_measurements_after_hand_back(signed_in):
    piece = piece_of()
    desk = signed_in("desk")
    where = reverse("bench:measurements", args=[piece.pk])
    assert "Service report (PDF)" not in desk.get(where).content.decode()
    stay = stay_of(piece)
    link = reverse("bench:service_report", args=[piece.pk, stay.drop_off.pk])
    assert link in desk.get(where).content.decode()
    answer = desk.get(link, {"size": "letter"})
    assert answer.headers["Content-Type"] == "application/pdf"
    assert round(float(PdfReader(io.BytesIO(answer.content)).pages[0].mediabox.width)) == 612
    assert desk.get(reverse("guarantee:card", args=[piece.pk])).content.startswith(b"%PDF")
