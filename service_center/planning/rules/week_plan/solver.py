"""The constraint solver's settings: one thread and a limit that counts work, so that the same week gives the same plan."""

from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from service_center.planning.rules.week_plan.model import Model
from service_center.planning.rules.week_plan.week import Place

SEED = 1
# The solver's own measure of work, which a second of a clock comes near to (measured: tests/bench/week_plan.py).
WORK = 6.0
WORK_FOR_FIRST = 4.0
WORK_FOR_A_DAY = 0.1


@dataclass(frozen=True, slots=True)
class Found:
    """The best plan that the solver has (None: none in the time), and below what no plan can cost."""

    plan: dict[int, Place] | None
    bound: float
    proven: bool
    work: float


def best_plan(model: Model, *, work: float = WORK) -> Found:
    """The best plan within so much work."""
    solver = _solver(work)
    status = solver.solve(model.solver_model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Found(None, 0.0, proven=False, work=solver.response_proto.deterministic_time)
    return Found(
        _read(model, solver), solver.best_objective_bound, status == cp_model.OPTIMAL,
        solver.response_proto.deterministic_time,
    )  # fmt: skip


def first_plan(model: Model) -> dict[int, Place] | None:
    """Any plan that breaks no rule; None where there is none, or none is found within the work that is allowed."""
    solver = _solver(WORK_FOR_FIRST)
    if solver.solve(model.solver_model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return _read(model, solver)


def fitted(model: cp_model.CpModel, rows: Sequence[Sequence[cp_model.IntVar]]) -> list[list[bool]]:
    """The values of some variables in the best answer that the work for a day's benches finds; none set without one."""
    solver = _solver(WORK_FOR_A_DAY)
    answered = solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return [[answered and solver.boolean_value(one) for one in row] for row in rows]


def _solver(work: float) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.interleave_search = True
    solver.parameters.random_seed = SEED
    solver.parameters.max_deterministic_time = work
    return solver


def _read(model: Model, solver: cp_model.CpSolver) -> dict[int, Place]:
    return {
        key: place for key, places in model.at.items() for place, yes in places.items() if solver.boolean_value(yes)
    }
