"""Invented pieces for looking at letters: one for each thing that a letter can say. They are in no book."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import ServiceKind, Use
from service_center.intervals.rules import Due, Evidence, EvidenceFact, Owed, OwedFact, Start, StartFact, default_for
from service_center.letters.composing.letter import PieceInLetter, ServiceInLetter
from service_center.measurements.rules import Wind

YEAR = timedelta(days=365)
MONTH = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Example:
    """One thing that a letter can tell. `due`: the kind's dates on a day; `owner` and `piece` by name."""

    label: str | Promise
    due: Callable[[ServiceKind, date], Due]
    owner: str = "Ada Winter"
    piece: str = "Skerry"
    guarantee: bool = False


def pieces_of_example(example: Example, case: str, as_of: date) -> tuple[PieceInLetter, ...]:
    """What a letter of a case tells of an example: one piece, or three where the letter is about several."""
    kind, _dot, step = case.partition(".")
    if kind != "several":
        return (_piece(example, ServiceKind(kind), step, as_of, "FH21-000482"),)
    first = _piece(example, ServiceKind.OVERHAUL, step, as_of, "FH21-000482")
    second = _piece(example, ServiceKind.TIGHTNESS, step, as_of, "FH24-001173")
    return (first, replace(second, name="Foreland"), replace(first, name="Tarn", serial="FH17-000059", boutique=""))


def _piece(example: Example, kind: ServiceKind, step: str, as_of: date, serial: str) -> PieceInLetter:
    return PieceInLetter(
        name=example.piece,
        serial=serial,
        rated=True,
        boutique="Harrowmere",
        services=(ServiceInLetter(example.due(kind, as_of), step),),
        guarantee_to=as_of + YEAR if example.guarantee else None,
    )


def _since(fact: StartFact, *, due_in: timedelta = 2 * MONTH) -> Callable[[ServiceKind, date], Due]:
    def due(kind: ServiceKind, as_of: date) -> Due:
        years = 7 if kind is ServiceKind.OVERHAUL else 2
        due_on = as_of + due_in
        return Due(
            kind=kind,
            start=Start(due_on - years * YEAR, fact),
            rule=default_for(kind, Use.EVERYDAY),
            opens_on=due_on - YEAR / 2,
            due_on=due_on,
            closes_on=due_on + YEAR,
            owed=None,
            held="",
        )

    return due


def _owed(fact: OwedFact) -> Callable[[ServiceKind, date], Due]:
    def due(kind: ServiceKind, as_of: date) -> Due:
        plain = _since(StartFact.OVERHAUL)(kind, as_of)
        only_tests = kind is ServiceKind.TIGHTNESS
        return replace(plain, owed=Owed(as_of - MONTH / 2, "", fact)) if only_tests else plain

    return due


def _measured(fact: EvidenceFact, *, on_in: timedelta) -> Callable[[ServiceKind, date], Due]:
    def due(kind: ServiceKind, as_of: date) -> Due:
        plain = _since(StartFact.OVERHAUL)(kind, as_of)
        evidence = Evidence(fact, as_of + on_in, Wind.FULL, limit=220.0)
        return replace(plain, evidence=evidence) if kind is ServiceKind.OVERHAUL else plain

    return due


EXAMPLES: dict[str, Example] = {
    "sale": Example(_("since its sale"), _since(StartFact.SALE)),
    "overhaul": Example(_("since its last overhaul"), _since(StartFact.OVERHAUL)),
    "pass": Example(_("since a passed test"), _since(StartFact.PASS)),
    "shelf": Example(_("lay long in stock"), _since(StartFact.SHELF)),
    "making": Example(_("only its making is known"), _since(StartFact.MAKING)),
    "past": Example(_("past its day"), _since(StartFact.SALE, due_in=-4 * MONTH)),
    "failed": Example(_("a test was not passed"), _owed(OwedFact.FAILED)),
    "opened": Example(_("opened without a test"), _owed(OwedFact.OPENED)),
    "reading": Example(_("a reading fell short"), _measured(EvidenceFact.READING, on_in=-MONTH / 2)),
    "trend": Example(_("its readings fall"), _measured(EvidenceFact.TREND, on_in=3 * MONTH)),
    "trend_past": Example(_("its readings fell, past the day"), _measured(EvidenceFact.TREND, on_in=-3 * MONTH)),
    "guarantee": Example(_("a guarantee runs"), _since(StartFact.OVERHAUL), guarantee=True),
    "right_to_left": Example(_("names from right to left"), _since(StartFact.SALE), owner="نور الحسيني", piece="צוק"),
    "long": Example(
        _("long names"),
        _since(StartFact.SALE),
        owner="Éloïse Desrosiers-Châteauneuf de la Tour d’Auvergne et de Saint-Barthélemy",
        piece="Skerry Chronograph with Moon Phase and Power Reserve, Anniversary Series in Rose Gold 🌙",
    ),
    "nameless": Example(_("the owner's name is not known"), _since(StartFact.SALE), owner=""),
}
