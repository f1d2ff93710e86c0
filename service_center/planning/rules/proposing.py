"""The proposal: the optimum, whole pieces near it, and the accepted plan kept where it is as near."""

from dataclasses import dataclass

from service_center.planning.rules.levelling import Counts, Problem, Standing, standing, without_levelling
from service_center.planning.rules.programme import optimum
from service_center.planning.rules.rounding import kept, whole_pieces

# 60 days before due (design/letters.md): what happens without a plan.
WEEKS_BEFORE_DUE = 9


@dataclass(frozen=True, slots=True)
class Proposal:
    """A plan of whole pieces, what it comes to, what came without it, and the linear programme's minimum.

    `invited_before`: the plan as it stands. `gap` is by how much whole pieces cost more than the minimum. `unchanged`: the accepted plan stays.
    """

    objective: float
    invited: Counts
    invited_before: Counts
    before: Standing
    after: Standing
    gap: float
    unchanged: bool


def propose(problem: Problem, accepted_gap: float | None) -> Proposal:
    """Level the invitations. `accepted_gap`: the gap of the accepted plan, None without one.

    An accepted plan that lies no farther above the minimum than its rounding left it stays as it is: without new facts
    the minimum can only have risen, by the cost of moving, and so a second run changes nothing.
    """
    best = optimum(problem)
    as_it_stands = without_levelling(problem, WEEKS_BEFORE_DUE)
    before = standing(problem, as_it_stands)
    stays = kept(problem)
    if stays is not None and accepted_gap is not None:
        after = standing(problem, stays)
        gap = after.cost - best.objective
        if gap <= accepted_gap + 1e-6 * max(1.0, abs(best.objective)):
            return Proposal(best.objective, stays, as_it_stands, before, after, gap, unchanged=True)
    invited = whole_pieces(problem, best.invited)
    after = standing(problem, invited)
    gap = after.cost - best.objective
    return Proposal(best.objective, invited, as_it_stands, before, after, gap, unchanged=False)
