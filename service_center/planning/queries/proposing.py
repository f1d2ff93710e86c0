"""The levelling problem of the house on a day, put together from the book."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from service_center.book.rules import ServiceKind
from service_center.letters.queries.coming import room_to_work
from service_center.planning.models import AcceptedPlan
from service_center.planning.queries.answers import Awaited, answers_by_letter, awaited, in_the_house
from service_center.planning.queries.benches import (
    capacity_by_skill,
    check_hours_by_skill,
    hours_by_skill,
    hours_in_orders,
)
from service_center.planning.queries.cohorts import Horizon, count_cohorts
from service_center.planning.rules.arrivals import (
    ANSWER_WEEKS,
    OVERHAUL_INVITATION,
    Numbers,
    Sort,
    learn,
    still_to_come,
)
from service_center.planning.rules.bench_hours import worked_off
from service_center.planning.rules.curves import LetterCurve, letter_curves
from service_center.planning.rules.levelling import Problem
from service_center.planning.rules.picture import OutStep
from service_center.planning.rules.weeks import monday_of, week_at, week_name


@dataclass(frozen=True, slots=True)
class Levelling:
    """The problem of a horizon; what is promised and what is expected of letters out, in hours by skill and week.

    `overhauls_out`: pieces that letters out, and those that go out at once, are expected to bring for their overhaul.
    `accepted_gap`: that of the latest accepted plan, None without one. `no_letters`, `no_skill`: overhauls that are due
    and cannot be planned, because their owner has no letters, or the piece's calibre no complexity. `curves`: what
    each letter brings; `letters`: overhauls awaited by the letter that is out, by skill.
    """

    horizon: Horizon
    problem: Problem
    promised: dict[str, list[float]]
    from_letters_out: dict[str, list[float]]
    overhauls_out: dict[str, list[float]]
    accepted_gap: float | None
    no_letters: int
    no_skill: int
    curves: list[LetterCurve]
    letters: dict[str, list[OutStep]]

    def week_names(self) -> list[str]:
        """The horizon's weeks, as ISO 8601 writes them."""
        return [week_name(self.horizon.first + timedelta(weeks=week)) for week in range(self.horizon.weeks)]


def levelling(as_of: date, weeks: int) -> Levelling:
    """Put the problem together. Nineteen statements at most, over the stored due dates."""
    horizon = Horizon(as_of, monday_of(as_of), weeks)
    hours, there_are = hours_by_skill(), capacity_by_skill(horizon.first, weeks)
    of_a_piece = {ServiceKind.OVERHAUL: hours, ServiceKind.TIGHTNESS: check_hours_by_skill()}
    in_orders = hours_in_orders()
    with room_to_work():
        found = count_cohorts(horizon)
        letters = answers_by_letter(as_of)
        out, inside = awaited(as_of, [kind for kind, costs in of_a_piece.items() if costs]), in_the_house()
    curves = learn(letters)
    shares = curves[OVERHAUL_INVITATION]
    out += [Awaited(skill, 0, None, pieces) for skill, pieces in found.owed.items()]
    needed = {cohort.skill for cohort in found.cohorts} | {one.skill for one in out} | set(inside) | set(in_orders)
    skills = [skill for skill in hours if skill in needed | set(there_are)]
    capacity = {skill: there_are.get(skill, [0.0] * weeks) for skill in skills}
    pieces = arriving(horizon, out, curves, skills)
    expected = {
        skill: [
            sum(pieces[kind][skill][week] * of_a_piece[kind].get(skill, 0.0) for kind in pieces)
            for week in range(weeks)
        ]
        for skill in skills
    }
    promised = {
        skill: worked_off(
            in_orders.get(skill, 0.0) + inside.get(skill, 0) * hours[skill],
            [there - taken for there, taken in zip(capacity[skill], expected[skill], strict=True)],
        )
        for skill in skills
    }
    latest = AcceptedPlan.objects.order_by("-pk").values_list("gap", flat=True).first()
    cohorts = sorted(
        (replace(cohort, pieces=pieces) for cohort, pieces in found.cohorts.items()),
        key=lambda one: (one.skill, one.due, one.opens, one.closes, -1 if one.planned is None else one.planned),
    )
    problem = Problem(
        weeks=weeks,
        cohorts=cohorts,
        hours={skill: hours[skill] for skill in skills},
        answers={skill: [float(share) for share in shares[skill]] for skill in skills},
        capacity=capacity,
        committed={
            skill: [one + other for one, other in zip(promised[skill], expected[skill], strict=True)]
            for skill in skills
        },
    )
    overhauls = pieces[ServiceKind.OVERHAUL]
    by_letter = {skill: _by_letter(horizon, [one for one in out if one.skill == skill], curves) for skill in skills}
    return Levelling(
        horizon,
        problem,
        promised,
        expected,
        overhauls,
        latest,
        found.no_letters,
        found.no_skill,
        letter_curves(letters),
        by_letter,
    )


def arriving(
    horizon: Horizon, out: Sequence[Awaited], curves: Mapping[Sort, Mapping[str, Numbers]], skills: Sequence[str]
) -> dict[ServiceKind, dict[str, list[float]]]:
    """Pieces expected by kind, skill and week: of letters that went out, booked visits, and those invited at once."""
    expected = {kind: {skill: [0.0] * horizon.weeks for skill in skills} for kind in ServiceKind}
    for one in out:
        weeks = expected[one.sort[0]][one.skill]
        if one.booked is not None:
            week = week_at(one.booked, horizon.first)
            if week < horizon.weeks:
                weeks[week] += one.pieces
        elif one.sort in curves:
            coming = still_to_come(curves[one.sort][one.skill], one.weeks)[: horizon.weeks]
            for week, share in enumerate(coming):
                weeks[week] += one.pieces * float(share)
    return expected


def _by_letter(horizon: Horizon, out: Sequence[Awaited], curves: Mapping[Sort, Mapping[str, Numbers]]) -> list[OutStep]:
    """One skill's overhauls that are awaited without a booked day, by the letter that is out."""
    found = []
    for sort in curves:
        mine = [one for one in out if one.sort == sort and one.booked is None]
        if sort[0] is ServiceKind.OVERHAUL and mine:
            ages = [sum(one.pieces for one in mine if one.weeks == age) for age in range(ANSWER_WEEKS)]
            expected = arriving(horizon, mine, curves, [mine[0].skill])[ServiceKind.OVERHAUL][mine[0].skill]
            found.append(OutStep(sort[1].value, ages, expected))
    return found
