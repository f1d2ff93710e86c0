"""The guarantee card and the estimate, in the owner's language."""

from datetime import date
from decimal import Decimal

from django.conf import settings
from django.utils import translation
from django.utils.text import get_valid_filename

from service_center.book.models import Piece
from service_center.book.wording import FALLBACK, language_of
from service_center.guarantee import words
from service_center.guarantee.estimate import Estimate
from service_center.guarantee.finding_words import because, names
from service_center.guarantee.queries import decision_of, house_table, terms_of
from service_center.guarantee.rules import CoveredBy, EnrolmentState, FindingDecision, enrolment_on
from service_center.papers.amounts import amount_written
from service_center.papers.render import code_picture, render
from service_center.papers.rules import LETTER_PAPER, PageSize

SIZES = (PageSize.A4, PageSize.LETTER)
STILL = (EnrolmentState.OPEN, EnrolmentState.ENROLLED)


def size_for(country: str) -> PageSize:
    """What printers hold in a country."""
    return PageSize.LETTER if country in LETTER_PAPER else PageSize.A4


def file_name(piece: Piece) -> str:
    """A name that any machine can keep."""
    return f"{get_valid_filename(piece.serial)}-guarantee.pdf"


def guarantee_card(piece: Piece, *, as_of: date, country: str, size: PageSize) -> bytes:
    """What is promised for a piece, to which days, and what is not covered. Four statements beside the piece's own."""
    language = language_of(piece.owner) if piece.owner else FALLBACK
    with translation.override(language):
        decision = decision_of(piece, as_of, country=country)
        terms = terms_of(piece)
        enrolment = enrolment_on(as_of, sold_on=piece.sold_on, enrolled_on=piece.extension_enrolled_on, terms=terms)
        table = house_table()
        rated = bool(piece.model and piece.model.rated_bar)
        context = {
            "piece": piece,
            "owner": piece.owner,
            "as_of": as_of,
            "covers": [(words.name_of(one.by), one, one.to_on < as_of) for one in decision.covers],
            "notes": words.notes(decision, extension=False),
            "enrolment": words.enrolment_sentence(enrolment, piece.extension_enrolled_on),
            "conditions": words.extension_conditions(enrolment, rated=rated) if enrolment.state in STILL else [],
            "covered": [names()[finding] for finding, row in table.items() if row.base],
            "not_covered": [
                (names()[finding], because(FindingDecision(finding, False, CoveredBy.NONE, True, None), row))
                for finding, row in table.items()
                if not (row.base or row.extension or row.work)
            ],
            "work_months": terms.work_months,
            "statutory": words.statutory_note(),
            "code": code_picture(piece.serial),
            "contact": settings.MAIL_FROM,
        }
        return render("guarantee/card.html", context, size=size, language=language)


def estimate(piece: Piece, made: Estimate, *, size: PageSize) -> bytes:
    """An estimate as PDF, in the owner's language. No statement beside the piece's own."""
    language = language_of(piece.owner) if piece.owner else FALLBACK
    with translation.override(language):
        context = {
            "piece": piece,
            "owner": piece.owner,
            "estimate": made,
            "lines": [(line, _money(line.price, made.currency, language)) for line in made.lines],
            "total": _money(made.total, made.currency, language),
            "statutory": words.statutory_note(),
            "code": code_picture(piece.serial),
            "contact": settings.MAIL_FROM,
        }
        return render("guarantee/estimate.html", context, size=size, language=language)


def _money(amount: Decimal | None, currency: str, language: str) -> str:
    return "" if amount is None else amount_written(amount, currency, language)
