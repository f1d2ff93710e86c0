"""The service report: how a piece came in and how it goes back, in the owner's language."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext as _

from service_center.bench import pictures
from service_center.bench.pictures import BesideRow, Named
from service_center.bench.queries import Stay, calibre_of
from service_center.bench.said import TestRow, plan_rows, reserve_rows, verdict_rows
from service_center.bench.wording import WORK_DONE
from service_center.book.models import Piece
from service_center.book.rules import EntryKind, Tightness
from service_center.book.wording import FALLBACK, language_of, listed
from service_center.guarantee import words
from service_center.guarantee.queries import decision_of
from service_center.guarantee.rules import CoveredBy
from service_center.intake.rules import Asked
from service_center.intake.wording import ASKED, POSITIONS
from service_center.measurements.queries import judging_of, plan_of_run, readings_of, reserves_of, runs_of
from service_center.measurements.rules.limits import verdicts_on
from service_center.papers.render import code_picture, render
from service_center.papers.rules import LETTER_PAPER, PageSize

SIZES = (PageSize.A4, PageSize.LETTER)


def size_for(stay: Stay) -> PageSize:
    """What the printer at the boutique holds."""
    return PageSize.LETTER if stay.drop_off.boutique.country in LETTER_PAPER else PageSize.A4


def service_report(piece: Piece, stay: Stay, *, size: PageSize) -> bytes:
    """One stay as PDF: work, readings and tests of intake beside hand-back, limits, pictures. Twelve statements.

    The stay has a sheet after the work. Nothing that staff noted for themselves is on it.
    """
    owner = stay.drop_off.owner or piece.owner
    language = language_of(owner) if owner else FALLBACK
    with translation.override(language):
        context = {
            "piece": piece,
            "owner": owner,
            "stay": stay,
            "drop_off": stay.drop_off,
            "asked": listed(str(ASKED[Asked(one)]) for one in stay.drop_off.asked),
            "work": [_work_in_words(entry.kind, entry.tightness) for entry in stay.work],
            **_readings(piece, stay),
            "tests": _tests(piece, stay),
            "reserves": _reserves(piece, stay),
            **_guarantee(piece, stay),
            "code": code_picture(piece.serial),
            "contact": settings.MAIL_FROM,
        }
        return render("bench/report.html", context, size=size, language=language)


def _work_in_words(kind: str, tightness: str) -> str:
    said = str(WORK_DONE[kind])
    check = kind == EntryKind.TIGHTNESS_CHECK
    if tightness == Tightness.PASSED:
        return _("Tightness check: passed") if check else _("%(work)s, tightness test passed") % {"work": said}
    if tightness == Tightness.FAILED:
        return _("Tightness check: failed") if check else _("%(work)s, tightness test failed") % {"work": said}
    return said


@dataclass(frozen=True, slots=True)
class PositionRow:
    """One position in words, with the figures of both states."""

    name: str
    row: BesideRow


def _readings(piece: Piece, stay: Stay) -> dict[str, Any]:
    assert stay.after is not None  # the caller asked for a sheet after the work
    judging = judging_of(calibre_of(piece))
    before = Named(_("When it came in"), readings_of(stay.before) if stay.before else [])
    after = Named(_("When it goes back"), stay.after.readings)
    rows = pictures.beside(before, after)
    then = verdict_rows(verdicts_on(before.readings, judging))
    return {
        "pictures": pictures.of_two_sheets(before, after, lowest=judging.limits["lowest_vertical_amplitude"].low),
        "positions": [PositionRow(str(POSITIONS[row.position]), row) for row in rows],
        "has_before": bool(before.readings),
        "verdicts": [
            (first, row) for first, row in zip(then, verdict_rows(stay.after.verdicts), strict=True) if row.value
        ],
    }


@dataclass(frozen=True, slots=True)
class TestPair:
    """One test when the piece came in and when it goes back; empty where it was not made."""

    name: str
    planned: str
    before: TestRow | None
    after: TestRow | None


def _tests(piece: Piece, stay: Stay) -> list[TestPair]:
    """The first run of the stay beside its last, test by test; a lone one of the day it came in was made then."""
    inside = [(run, results) for run, results in runs_of(piece) if results and _within(stay, run.begun_on)]
    if not inside:
        return []
    last_run, last_results = inside[0]
    after = plan_rows(plan_of_run(last_run), last_results)
    first: list[TestRow] = []
    if len(inside) > 1:
        first_run, first_results = inside[-1]
        first = plan_rows(plan_of_run(first_run), first_results)
    if len(inside) == 1 and _at_intake(stay, last_run.begun_on):
        return [TestPair(row.name, row.planned, row, None) for row in after]
    by_test = {row.test: row for row in first}
    return [TestPair(row.name, row.planned, by_test.get(row.test), row) for row in after]


def _at_intake(stay: Stay, day: date) -> bool:
    assert stay.after is not None  # the caller asked for a sheet after the work
    return day == stay.drop_off.taken_on < stay.after.sheet.taken_on


def _reserves(piece: Piece, stay: Stay) -> list[Any]:
    return reserve_rows([one for one in reserves_of(piece) if _within(stay, one.stopped_on)])


def _within(stay: Stay, day: date) -> bool:
    return stay.drop_off.taken_on <= day and (stay.returned_on is None or day <= stay.returned_on)


def _guarantee(piece: Piece, stay: Stay) -> dict[str, Any]:
    """The guarantee on the work of this stay; one on earlier work is not this paper's."""
    assert stay.after is not None
    day = stay.returned_on or stay.after.sheet.taken_on
    country = (piece.owner.country if piece.owner else "") or stay.drop_off.boutique.country
    cover = decision_of(piece, day, country=country).of(CoveredBy.WORK)
    if cover and cover.from_on < stay.drop_off.taken_on:
        cover = None
    return {"cover": cover, "cover_name": words.name_of(CoveredBy.WORK), "statutory": words.statutory_note()}
