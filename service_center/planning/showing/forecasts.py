"""What the desk sees of past forecasts."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from service_center.planning.queries.scoring import PastWeek
from service_center.planning.rules.scoring import AHEAD, Score, score
from service_center.planning.showing.line_chart import RangeChart, range_chart
from service_center.planning.wording import SKILLS


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """One skill, or all together, by how long ahead."""

    name: str
    scores: list[Score]


@dataclass(frozen=True, slots=True)
class SkillPast:
    """One skill's weeks at one horizon, in a picture and a table."""

    name: str
    finding: str
    weeks: Sequence[PastWeek]
    chart: RangeChart


def score_rows(weeks: Sequence[PastWeek]) -> list[ScoreRow]:
    """A row a skill that has weeks to score, and one for all of them."""
    rows = [
        ScoreRow(
            str(name), [score(one for one in weeks if (one.skill, one.ahead) == (skill, ahead)) for ahead in AHEAD]
        )
        for skill, name in SKILLS.items()
    ]
    together = ScoreRow(_("All together"), [score(one for one in weeks if one.ahead == ahead) for ahead in AHEAD])
    return [*(row for row in rows if any(one.weeks for one in row.scores)), together]


def picture_of_skill(name: str | Promise, weeks: Sequence[PastWeek]) -> SkillPast | None:
    """None where there is nothing to show."""
    if not weeks:
        return None
    found = score(weeks)
    finding = _("%(inside)s of %(weeks)s weeks lay inside their range; %(came)s came, %(expected)s were expected.") % {
        "inside": found.inside,
        "weeks": found.weeks,
        "came": found.came,
        "expected": f"{found.expected:.0f}",
    }
    chart = range_chart([(one.week, one.said.low, one.said.high, one.pieces, one.inside) for one in weeks])
    return SkillPast(str(name), finding, weeks, chart)
