"""What the desk sees of one letter's curve."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from service_center.planning.rules.curves import SHOWN_WEEKS, LetterCurve
from service_center.planning.showing.line_chart import LineChart, share_chart
from service_center.planning.wording import LETTERS, SKILLS


@dataclass(frozen=True, slots=True)
class SkillRow:
    """One skill: on how many letters its curve rests, how many came, and the percentage expected in all."""

    name: str
    letters: int
    came: int
    percent: float


@dataclass(frozen=True, slots=True)
class WeekRow:
    """So many weeks after the letter: percent that has come, as expected, and as seen with its range."""

    weeks: int
    expected: float
    seen: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class CurveTable:
    """One letter's curve in words, numbers and a picture."""

    code: str
    name: str
    finding: str
    curve: LetterCurve
    weeks: list[WeekRow]
    skills: list[SkillRow]
    chart: LineChart


def curve_table(curve: LetterCurve) -> CurveTable:
    """Everything the page says of one letter."""
    return CurveTable(
        code=f"{curve.kind}-{curve.step}",
        name=str(LETTERS[curve.kind, curve.step]),
        finding=_finding(curve),
        curve=curve,
        weeks=[_week(curve, weeks) for weeks in SHOWN_WEEKS],
        skills=[
            SkillRow(str(SKILLS[one.skill]), one.letters, one.came, 100 * one.come_at_all) for one in curve.by_skill
        ],
        chart=share_chart(curve.learnt, curve.seen, curve.low, curve.high),
    )


def _week(curve: LetterCurve, weeks: int) -> WeekRow:
    if not curve.seen:
        return WeekRow(weeks, curve.percent_by(weeks), None, None, None)
    at = weeks - 1
    return WeekRow(weeks, curve.percent_by(weeks), 100 * curve.seen[at], 100 * curve.low[at], 100 * curve.high[at])


def _finding(curve: LetterCurve) -> str:
    if not curve.letters:
        return _("No such letter went out yet: this is common practice.")
    rests = ngettext("It rests on %(n)s letter.", "It rests on %(n)s letters.", curve.letters) % {"n": curve.letters}
    expected = _("Of a hundred owners %(n)s come, half of them within %(weeks)s weeks.") % {
        "n": round(curve.percent_by(len(curve.learnt))),
        "weeks": curve.half_within,
    }
    return f"{expected} {rests}"
