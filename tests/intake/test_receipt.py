"""The receipt: what it says, in the owner's language and script, whole."""

import io
import logging
import time
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.urls import reverse
from pypdf import PdfReader

from service_center.intake.actions import Signed, Sitting
from service_center.intake.drafts.actions import begin
from service_center.intake.papers import label, receipt
from service_center.intake.photographs.actions import add_photograph, delete_files
from service_center.intake.rules import Asked, Condition, Estimate, Grade, Line, Money, Noted, Part, PartNoted
from service_center.measurements.rules import Reading, Wind
from service_center.papers.rules import PageSize
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory
from tests.papers.test_render import NAMES
from tests.pictures import jpeg

pytestmark = pytest.mark.django_db

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
READINGS = [
    Reading("CH", Wind.FULL, Decimal("4.0"), Decimal(285), Decimal("0.20")),
    Reading("9H", Wind.FULL, Decimal("-3.0"), Decimal(252), None),
    Reading("CH", Wind.AFTER_24H, Decimal("1.0"), Decimal(245), None),
]


def text_of(drop_off, size=PageSize.A4):
    reader = PdfReader(io.BytesIO(receipt(drop_off, size=size)))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_a_receipt_says_what_was_brought_said_read_and_promised(take):
    piece = PieceFactory(serial="FH21-000123", sold_on=date(2024, 2, 29), owner=OwnerFactory(name="Ada Winter"))
    drop_off = take(
        piece,
        asked=[Asked.OVERHAUL, Asked.STRAP],
        owner_says="It stops at night.",
        left_with="Box and guarantee card",
        sitting=Sitting(READINGS),
    )
    text = text_of(drop_off)
    for said in (
        drop_off.number,
        "FH21-000123",
        "Skerry",
        "Ada Winter",
        "Taken in on 2 March 2026 at Harrowmere",
        "Overhaul, Strap",
        "It stops at night.",
        "Box and guarantee card",
        "Dial up (CH) Fully wound +4.0 285 0.20",
        "9 o'clock up (9H) Fully wound \N{MINUS SIGN}3.0 252",
        "Dial up (CH) 24 hours later +1.0 245",
        "The guarantee ended on 28 February 2026 and was not extended.",
        "it still runs to 2 March 2026",
        "Your rights under the law stand beside this guarantee",
        "Please bring this receipt when you fetch the piece.",
        "Local codes and licensed practice come first.",
        "service@fernhollow.example",
    ):
        assert said in text


def all_noted():
    """What a counter notes at its fullest."""
    condition = Condition(
        (PartNoted(Part.CRYSTAL, Grade.DEEP_MARKS, "at two o'clock"), PartNoted(Part.CASE, Grade.AS_WORN))
    )
    lines = (Line(Asked.OVERHAUL, Decimal("640.00")), Line(Asked.STRAP, Decimal("60.00")))
    return Noted(condition, Money(Decimal("4200.00"), "GBP"), date(2026, 4, 7), Estimate("EUR", lines))


def signed_draft(piece, *, photographs):
    """A started drop-off with so many photographs, and a signature on glass."""
    draft = begin(piece, piece.boutique, by=StaffFactory(), at=NOON)
    for number in range(photographs):
        add_photograph(draft, io.BytesIO(jpeg((1600 - number, 1200))), size=1000, by=draft.at_it, at=NOON)
    strokes = (tuple((x, 100 + x % 40) for x in range(50, 400, 10)),)
    return {"draft": draft, "signed": Signed("All of it.\n", "en", "Ada Winter", strokes)}


def test_a_receipt_shows_condition_value_promise_estimate_photographs_and_signature(take):
    piece = PieceFactory(owner=OwnerFactory(name="Ada Winter"))
    drop_off = take(piece, noted=all_noted(), asked=[Asked.OVERHAUL, Asked.STRAP], **signed_draft(piece, photographs=3))
    text = text_of(drop_off)
    for said in (
        "Crystal: deep marks (at two o'clock)",
        "All other parts as worn, no marks to note.",
        "£4,200.00",
        "Overhaul: €640.00",
        "Strap: €60.00",
        "Together: €700.00",
        "We ask you before it costs more.",
        "Promised for 7 April 2026.",
        "Such work is usually ready by then.",
        "Ada Winter, 2 March 2026",
        drop_off.signature.text_sha256,
    ):
        assert said in text
    pages = PdfReader(io.BytesIO(receipt(drop_off, size=PageSize.A4))).pages
    assert len({image.data for page in pages for image in page.images}) == 4  # three photographs, and what was signed


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("fr", ["marques profondes", "Valeur déclarée", "Promise pour le 7 avril 2026."]),
        ("de", ["tiefe Spuren", "Angegebener Wert", "Zugesagt für den 7. April 2026.", "640,00"]),
        ("it", ["segni profondi", "Valore dichiarato", "Promesso per il giorno 7 aprile 2026."]),
        ("es", ["marcas profundas", "Valor declarado", "Prometido para el 7 de abril de 2026."]),
        ("ja", ["深い傷", "申告価額", "2026年4月7日"]),
    ],
)
def test_all_that_was_noted_is_said_in_the_owners_language(take, language, said):
    piece = PieceFactory(owner=OwnerFactory(name="Ada Winter", language=language))
    text = text_of(take(piece, noted=all_noted(), asked=[Asked.OVERHAUL, Asked.STRAP]))
    for one in said:
        assert one.replace(" ", "") in text.replace(" ", "")


def test_a_photograph_that_the_disk_has_lost_is_said_and_the_receipt_is_made(take):
    piece = PieceFactory()
    drop_off = take(piece, **signed_draft(piece, photographs=1))
    delete_files([drop_off.draft.photographs.get().key])
    assert "Photograph 1 cannot be shown." in text_of(drop_off)


def test_a_typed_name_is_told_from_a_signature(take):
    text = text_of(take(PieceFactory(), signed=Signed("All of it.\n", "en", "Ada Winter")))
    assert "(by typed name)" in text


def test_a_receipt_without_readings_or_words_leaves_their_headings_out(take):
    text = text_of(take(PieceFactory(owner=None, model=None), owner_says=""))
    assert "Readings" not in text.replace("Readings taken at the counter", "")
    assert "What you told us" not in text
    assert "Owner" not in text


@pytest.mark.parametrize(
    ("language", "day"), [("fr", "2 mars 2026"), ("de-AT", "2. März 2026"), ("ja", "2026年3月2日")]
)
def test_a_receipt_writes_dates_as_its_owner_does(take, language, day):
    drop_off = take(PieceFactory(owner=OwnerFactory(language=language)))
    assert day in text_of(drop_off)


def test_an_owner_whose_language_the_house_does_not_write_reads_english(take):
    assert "Good to know" in text_of(take(PieceFactory(owner=OwnerFactory(language="fi"))))


@pytest.mark.parametrize("script", NAMES)
def test_names_in_every_script_stand_whole_on_the_receipt(take, caplog, script):
    piece = PieceFactory(owner=OwnerFactory(name=NAMES[script]))
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        text = text_of(take(piece, owner_says=f"{NAMES[script]}: 1"))
    assert not [record for record in caplog.records if ".notdef" in record.getMessage()]
    if script not in ("Arabic", "Hebrew"):
        assert text.count(NAMES[script]) == 2


def test_what_an_owner_says_stays_text(take):
    said = "<script>alert(1)</script> <img src=file:///etc/hostname> & so on"
    assert said in text_of(take(PieceFactory(), owner_says=said))


def test_a_long_story_goes_on_over_pages_and_loses_nothing(take):
    story = "\n".join(f"line {n} of the story" for n in range(100))
    text = text_of(take(PieceFactory(), owner_says=story))
    assert "line 0 of the story" in text
    assert "line 99 of the story" in text


def test_the_receipt_is_shown_as_a_pdf_of_the_boutiques_paper_size(signed_in, take):
    desk = signed_in("desk")
    at_home = reverse("intake:receipt", args=[take(PieceFactory()).pk])
    over_there = reverse("intake:receipt", args=[take(PieceFactory(), boutique=BoutiqueFactory(country="US")).pk])
    answer = desk.get(at_home)
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"].startswith('inline; filename="R-')
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"

    def width(where, **given):
        return round(float(PdfReader(io.BytesIO(desk.get(where, given).content)).pages[0].mediabox.width))

    assert [width(at_home), width(over_there)] == [595, 612]
    assert [width(at_home, size="letter"), width(over_there, size="A4")] == [612, 595]
    assert width(at_home, size="../../etc") == 595


def test_after_the_first_a_receipt_is_there_in_under_a_second(take):
    piece = PieceFactory(owner=OwnerFactory(language="ja", name=NAMES["Japanese"]))
    drop_off = take(piece, sitting=Sitting(READINGS), noted=all_noted(), **signed_draft(piece, photographs=6))
    receipt(drop_off, size=PageSize.A4)
    began = time.process_time()
    receipt(drop_off, size=PageSize.A4)
    assert time.process_time() - began < 1


def test_a_label_is_one_small_page_with_what_it_is_and_not_whose(take):
    piece = PieceFactory(serial="FH21-000123", owner=OwnerFactory(name="Ada Winter"))
    drop_off = take(piece, asked=list(Asked))
    reader = PdfReader(io.BytesIO(label(drop_off)))
    (page,) = reader.pages
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx((175.7, 82.2), abs=0.1)
    text = page.extract_text()
    for said in (drop_off.number, "FH21-000123", "Skerry", "2 Mar 2026", "Battery, Check"):
        assert said in text
    assert "Ada" not in text
