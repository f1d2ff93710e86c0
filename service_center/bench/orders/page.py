"""What an order's page shows: the piece and its owner, the way through the workshop, work, findings, papers."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.utils.functional import Promise

from service_center.bench.orders.estimate_paper import lines_of
from service_center.bench.orders.measured import then_and_now
from service_center.bench.orders.order_words import HEARD, NEWS, what_lacks
from service_center.bench.orders.work import (
    bench_away_until,
    cautions_of,
    goes_back,
    next_work,
    operation_rows,
    what_next,
)
from service_center.bench.staff_said import RunRow, run_rows
from service_center.book.models import Custody
from service_center.book.rules import Place
from service_center.guarantee.finding_words import because, names
from service_center.guarantee.models import CoverDecision
from service_center.guarantee.queries import decisions_of, house_table
from service_center.guarantee.rules import CoveredBy, Finding, FindingDecision
from service_center.guarantee.words import name_of as name_of_cover
from service_center.intake import money
from service_center.intake.models import DropOff
from service_center.letters.desk.words import STATES as LETTER_STATES
from service_center.letters.models import OrderWord
from service_center.letters.queries.orders import NOT_TOLD, words_of
from service_center.letters.rules.words import LetterState, OrderNews
from service_center.measurements.queries import readings_of, runs_of
from service_center.pieces.wording import PLACES
from service_center.workshop.orders.models import OrderEstimate, OrderFinding, OrderMove, WorkOrder
from service_center.workshop.orders.queries.control import (
    counting_sheet,
    missing_of,
    sheet_after,
    standing_of,
    was_declined,
)
from service_center.workshop.orders.rules.answers import is_valid
from service_center.workshop.orders.rules.lateness import days_late
from service_center.workshop.orders.rules.steps import Standing, Step, next_step, route
from service_center.workshop.parts.queries import used_by
from service_center.workshop.words import KINDS, SKILLS, STEPS

# A declined order goes another way from here on.
AFTER_DECLINED = (Step.DECLINED, Step.UNDER_CONTROL, Step.READY, Step.HANDED_BACK)


@dataclass(frozen=True, slots=True)
class Station:
    """One step of an order's way. `state`: passed, here, or ahead; `move`: the last move to it, where it was reached."""

    name: str | Promise
    state: str
    move: OrderMove | None


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One finding in words, and the latest decision on who pays for it."""

    finding: OrderFinding
    name: str
    covered: bool
    by: str
    because: str


@dataclass(frozen=True, slots=True)
class EstimateRow:
    """One estimate with its lines as staff read them. `state`: waits, over, agreed, declined or replaced."""

    estimate: OrderEstimate
    lines: list[tuple[Any, str]]
    total: str
    state: str
    heard: str | Promise


def context_of(order: WorkOrder, today: date, now: datetime) -> dict[str, Any]:
    """What the template shows beside the deeds. At most forty-four statements, whatever happened to the piece."""
    standing = standing_of(order)
    open_ = order.closed_on is None
    moves = list(order.moves.select_related("by").order_by("pk"))
    before, after = counting_sheet(order), sheet_after(order)
    missing = missing_of(order) if _leaves_soon(standing) else []
    operations = operation_rows(order)
    is_away = order.piece.place != Place.BOUTIQUE
    estimates = _estimates(order, today)
    words = words_of([order.number])
    return {
        "order": order,
        "piece": order.piece,
        "drop_off": DropOff.objects.filter(number=order.number).first(),
        "kind": KINDS[standing.kind],
        "skill": SKILLS.get(order.complexity, ""),
        "step": STEPS[standing.step],
        "place": PLACES[order.piece.place],
        "open": open_,
        "late": open_ and days_late(standing.step, order.promised_on, order.ready_on, today) > 0,
        "agreed_total": "" if order.agreed_total is None else money.written(order.agreed_total, order.agreed_currency),
        "stations": stations(standing, moves, declined=was_declined(order)),
        "standing": standing,
        "next": what_next(standing, operations, missing, is_away=is_away, now=now) if open_ else "",
        "next_work": next_work(standing, operations, missing) if open_ else None,
        "goes_back": goes_back(standing, operations, missing),
        "operations": operations,
        "cautions": cautions_of(order),
        "away_until": bench_away_until(order, today),
        "parts_used": used_by(order),
        "findings": finding_rows(order),
        "estimates": estimates,
        "estimate": estimates[0] if estimates else None,
        "lacks": missing,
        "missing": what_lacks(missing),
        **then_and_now(order, readings_of(before) if before else [], after[1] if after else []),
        "sheet_before": before,
        "sheet_after": after[0] if after else None,
        "runs": _runs(order),
        "moves": [(move, STEPS[Step(move.step)], PLACES[move.place]) for move in reversed(moves)],
        "custody": _custody(order),
        "words": [_word(one) for one in words],
        "to_tell": to_tell(order, words, estimates, moves),
    }


def _leaves_soon(standing: Standing) -> bool:
    """Whether it is time to look at what is missing before the piece is ready."""
    near = (Step.ON_THE_BENCH, Step.UNDER_CONTROL, Step.READY)
    return standing.step in near or next_step(standing) is Step.READY


def stations(standing: Standing, moves: Sequence[OrderMove], *, declined: bool) -> list[Station]:
    """The way of an order, first step to last, and where on it the piece is."""
    goes = replace(standing, step=Step.DECLINED) if declined and standing.step in AFTER_DECLINED else standing
    way = list(route(goes))
    last = {Step(move.step): move for move in moves}
    here = way.index(standing.step)
    return [
        Station(
            STEPS[step],
            "here" if at == here else "passed" if at < here else "ahead",
            last.get(step) if at <= here else None,
        )
        for at, step in enumerate(way)
    ]


def finding_rows(order: WorkOrder) -> list[FindingRow]:
    """What was found, with the decision that holds: the latest of this order on such a finding. Three statements."""
    findings = list(order.findings.select_related("decision", "found_by").order_by("pk"))
    if not findings:
        return []
    table, called = house_table(), names()
    latest: dict[str, CoverDecision] = {}
    for decision in decisions_of(order.piece).filter(order=order.number):
        latest.setdefault(decision.finding, decision)
    found = []
    for one in findings:
        holds = latest.get(one.finding, one.decision)
        finding, by = Finding(one.finding), CoveredBy(holds.covered_by)
        said = FindingDecision(finding, holds.covered, by, _runs_at_all(holds), None)
        found.append(
            FindingRow(
                one,
                called[finding],
                holds.covered,
                name_of_cover(by) if holds.covered else "",
                holds.reason or because(said, table[finding]),
            )
        )
    return found


def _runs_at_all(decision: CoverDecision) -> bool:
    """Whether some guarantee was running on the day of the decision."""
    return bool(decision.record.get("covered_by") != CoveredBy.NONE.value)


def _estimates(order: WorkOrder, today: date) -> list[EstimateRow]:
    rows = order.estimates.select_related("answer", "answer__heard_by", "made_by").order_by("-pk")
    return [
        _estimate(one, latest=at == 0, asked=order.step == Step.ESTIMATED, today=today) for at, one in enumerate(rows)
    ]


def _estimate(one: OrderEstimate, *, latest: bool, asked: bool, today: date) -> EstimateRow:
    answer = getattr(one, "answer", None)
    if answer:
        state = "agreed" if answer.agreed else "declined"
    elif not latest or not asked:
        state = "replaced"
    else:
        state = "waits" if is_valid(one.valid_until, today) else "over"
    return EstimateRow(
        one,
        [(line, money.written(line.price, one.currency)) for line in lines_of(one)],
        money.written(one.total, one.currency),
        state,
        HEARD[answer.heard] if answer else "",
    )


def _runs(order: WorkOrder) -> list[RunRow]:
    """Tests since the piece came in; a dry run begun at the counter is among them."""
    return run_rows([(run, results) for run, results in runs_of(order.piece) if run.begun_on >= order.opened_on])


def _custody(order: WorkOrder) -> list[tuple[Custody, str | Promise]]:
    """In whose hands the piece was since it came in, and is, the latest first. One statement."""
    rows = Custody.objects.filter(piece=order.piece, since__gte=order.opened_at).select_related("boutique", "by")
    return [(one, PLACES[one.place]) for one in rows.order_by("-pk")]


def _word(word: OrderWord) -> dict[str, Any]:
    state = LetterState(word.letter.state)
    return {"word": word, "news": NEWS[OrderNews(word.news)], "state": state.value, "said": LETTER_STATES[state]}


def to_tell(
    order: WorkOrder, words: Sequence[OrderWord], estimates: Sequence[EstimateRow], moves: Sequence[OrderMove]
) -> OrderNews | None:
    """What is to be told to the owner now and nobody has told them; None where nothing is."""
    told = {(one.news, one.key) for one in words if one.letter.state not in NOT_TOLD}
    if order.owner is None:
        return None
    if order.step == Step.ESTIMATED and estimates:
        news, key = OrderNews.ESTIMATE, estimates[0].estimate.pk
    elif order.step == Step.READY and order.piece.place == Place.BOUTIQUE:
        news, key = OrderNews.READY, max(move.pk for move in moves if move.step == Step.READY)
    else:
        return None
    return None if (news.value, key) in told else news
