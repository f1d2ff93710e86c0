"""What Fernhollow would have forecast each Monday of the last months, from what it knew then."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from service_center.book.rules import Complexity, ServiceKind
from service_center.letters.rules.words import Step
from service_center.planning.actions import count_arrivals, keep_said
from service_center.planning.queries.answers import overhaul_answers_known, written_to
from service_center.planning.rules.arrivals import OVERHAUL_INVITATION, Numbers, Sort, learn, still_to_come
from service_center.planning.rules.scoring import WEEKS_KEPT, said_of
from service_center.planning.rules.weeks import monday_of

WEEKS_BACK = 40


def tell_past_forecasts(today: date) -> None:
    """A forecast a week, each from the letters and arrivals up to its day alone.

    Invitations that were to come then are taken from the letters that went out later: the rules that planned them
    have not changed.
    """
    written = list(written_to(today))
    letters = defaultdict(list)
    for one in written:
        letters[one.piece, one.starts_on].append(one)
    pieces = [
        _Written(skill_of[0].skill, {one.step: one.day for one in skill_of}, skill_of[0].came)
        for skill_of in letters.values()
    ]
    for back in range(WEEKS_BACK, 0, -1):
        monday = monday_of(today) - timedelta(weeks=back)
        curves = learn(overhaul_answers_known(written, monday - timedelta(days=1)))
        expected = _expected(pieces, monday, curves)
        keep_said({skill: said_of(weeks.tolist()) for skill, weeks in expected.items()}, made_on=monday)
    count_arrivals(as_of=today)


@dataclass(frozen=True, slots=True)
class _Written:
    skill: str
    days: dict[Step, date]
    came: date | None


def _expected(pieces: list[_Written], monday: date, curves: dict[Sort, dict[str, Numbers]]) -> dict[str, Numbers]:
    expected = {skill.value: np.zeros(WEEKS_KEPT) for skill in Complexity}
    for one in pieces:
        if one.came and one.came < monday:
            continue
        weeks = expected[one.skill]
        out = {step: day for step, day in one.days.items() if day < monday}
        if out:
            step = max(out, key=lambda step: out[step])
            age = (monday - monday_of(out[step])).days // 7
            coming = still_to_come(curves[ServiceKind.OVERHAUL, step][one.skill], age)[:WEEKS_KEPT]
            weeks[: len(coming)] += coming
        elif Step.INVITATION in one.days:
            ahead = (monday_of(one.days[Step.INVITATION]) - monday).days // 7
            if ahead < WEEKS_KEPT:
                coming = curves[OVERHAUL_INVITATION][one.skill][: WEEKS_KEPT - ahead]
                weeks[ahead : ahead + len(coming)] += coming
    return expected
