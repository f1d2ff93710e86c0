"""The receipt of a drop-off."""

from base64 import b64encode
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.conf import settings
from django.utils import translation
from django.utils.formats import number_format

from service_center.book.rules import Winding
from service_center.book.wording import FALLBACK, language_of, listed
from service_center.guarantee import words
from service_center.guarantee.rules import from_record
from service_center.intake import money
from service_center.intake.models import DropOff, Photograph, Signature
from service_center.intake.photographs.queries import Size, content_of
from service_center.intake.rules import Asked, Condition, Estimate, cautions_for
from service_center.intake.signing.statement import condition_lines, dry_line, estimate_lines, promise_lines
from service_center.intake.wording import ASKED, CAUTIONS, POSITIONS, TERMS, WINDS
from service_center.measurements.models import TightnessResult
from service_center.measurements.queries import readings_of
from service_center.measurements.rules import Reading
from service_center.measurements.rules.tightness import IN_AIR, TightnessTest
from service_center.papers.render import code_picture, render
from service_center.papers.rules import LETTER_PAPER, PageSize

RECEIPT_SIZES = (PageSize.A4, PageSize.LETTER)
MINUS = "\N{MINUS SIGN}"


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading as it is printed; empty where nothing was read."""

    wind: str
    position: str
    symbol: str
    rate: str
    amplitude: str
    beat_error: str


def size_for(drop_off: DropOff) -> PageSize:
    """What the printer at the boutique holds."""
    return PageSize.LETTER if drop_off.boutique.country in LETTER_PAPER else PageSize.A4


def receipt(drop_off: DropOff, *, size: PageSize) -> bytes:
    """The receipt as PDF, in the language in which it was signed, else the owner's. Four statements beside its own."""
    signed = signature_of(drop_off)
    language = signed.language if signed else language_of(drop_off.owner) if drop_off.owner else FALLBACK
    with translation.override(language):
        decision = from_record(drop_off.guarantee)
        model = drop_off.piece.model
        winding = model.calibre.winding if model and model.calibre else ""
        asked = [Asked(one) for one in drop_off.asked]
        cautions = cautions_for(
            made_on=drop_off.piece.made_on, winding=Winding(winding) if winding else None, asked=asked
        )
        context = {
            "drop_off": drop_off,
            "piece": drop_off.piece,
            "owner": drop_off.owner,
            "asked": listed(str(ASKED[one]) for one in asked),
            "readings": reading_rows(drop_off),
            "dry": dry_line(dry_results(drop_off)),
            "condition": condition_lines(Condition.from_record(drop_off.condition)),
            "photographs": [_inside(one) for one in photographs_of(drop_off)],
            "declared": declared_of(drop_off),
            "estimate": estimate_lines(Estimate.from_record(drop_off.estimate) if drop_off.estimate else None),
            "promise": promise_lines(drop_off.promised_on),
            "signature": signed,
            "signature_picture": _signature_inside(drop_off),
            "guarantee": words.name_of(decision.covered_by),
            "guarantee_because": words.sentence(decision),
            "guarantee_notes": words.notes(decision),
            "statutory": words.statutory_note(),
            "terms": TERMS,
            "cautions": [CAUTIONS[one] for one in cautions],
            "code": code_picture(drop_off.piece.serial),
            "contact": settings.MAIL_FROM,
        }
        return render("intake/receipt.html", context, size=size, language=language)


def photographs_of(drop_off: DropOff) -> Sequence[Photograph]:
    """The photographs of a drop-off in the order of taking. One statement."""
    return list(drop_off.draft.photographs.order_by("pk")) if drop_off.draft else []


def dry_results(drop_off: DropOff) -> list[bool]:
    """Whether each test in air at the counter was passed, in their order; empty for none. One statement."""
    rows = TightnessResult.objects.filter(run__form_key=drop_off.form_key, test__in=[TightnessTest.LOOK, *IN_AIR])
    # What the workshop adds to the same run comes later, and is none of the receipt's.
    at_counter = rows.filter(recorded_at__lte=drop_off.recorded_at).order_by("pk")
    return list(at_counter.values_list("passed", flat=True))


def signature_of(drop_off: DropOff) -> Signature | None:
    """What its owner signed; None where nobody did, and where they were erased: what the law keeps, no page shows."""
    if drop_off.owner is not None and drop_off.owner.erased_on:
        return None
    return getattr(drop_off, "signature", None)


def declared_of(drop_off: DropOff) -> str:
    """The declared value in the language that is active; empty where none was declared."""
    value = drop_off.declared_value
    return "" if value is None else money.written(value, drop_off.declared_currency)


def _inside(photograph: Photograph) -> str:
    """A small photograph as a data: address; empty where the disk has lost it, and the paper says so."""
    try:
        return _data(content_of(photograph, Size.SMALL), "image/jpeg")
    except FileNotFoundError:
        return ""


def _signature_inside(drop_off: DropOff) -> str:
    signed = signature_of(drop_off)
    return _data(bytes(signed.drawn), "image/png") if signed and signed.drawn else ""


def _data(content: bytes, kind: str) -> str:
    return f"data:{kind};base64,{b64encode(content).decode()}"


def label(drop_off: DropOff) -> bytes:
    """The label tied to the piece: what it is and which drop-off, and whose not. For the house, in English."""
    model = drop_off.piece.model
    context = {
        "drop_off": drop_off,
        "piece": drop_off.piece,
        "model": model,
        "asked": [str(ASKED[Asked(one)]) for one in drop_off.asked],
        "code": code_picture(drop_off.piece.serial),
    }
    return render("intake/label.html", context, size=PageSize.LABEL, language=FALLBACK, style="papers/label.css")


def reading_rows(drop_off: DropOff) -> list[ReadingRow]:
    """The readings of a drop-off in the language that is active. One statement."""
    return rows_of(readings_of(drop_off.sheet)) if drop_off.sheet else []


def rows_of(readings: Iterable[Reading]) -> list[ReadingRow]:
    """Readings as an owner reads them, in the language that is active."""
    return [
        ReadingRow(
            wind=str(WINDS[reading.wind]),
            position=str(POSITIONS[reading.position]),
            symbol=reading.position,
            rate=_signed(reading.rate),
            amplitude=_plain(reading.amplitude, 0),
            beat_error=_plain(reading.beat_error, 2),
        )
        for reading in readings
    ]


def _plain(value: Decimal | None, decimals: int) -> str:
    return "" if value is None else number_format(value, decimals)


def _signed(rate: Decimal | None) -> str:
    """With its sign: plus gains."""
    if rate is None:
        return ""
    sign = MINUS if rate < 0 else "+" if rate else ""
    return f"{sign}{number_format(abs(rate), 1)}"
