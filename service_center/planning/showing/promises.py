"""Scores of promises as the page shows them: a line for each month, a column for each kind."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from service_center.book.rules import EntryKind
from service_center.planning.rules.promising.scoring import Score, likely_share
from service_center.workshop.words import KINDS


@dataclass(frozen=True, slots=True)
class Cell:
    """A score with its share in hundredths; none where nothing was promised."""

    score: Score
    percent: int | None


@dataclass(frozen=True, slots=True)
class MonthRow:
    """A month's scores by kind, all kinds together, and what was worked out from the benches."""

    month: date
    cells: tuple[Cell, ...]
    all_kinds: Cell
    quoted: Cell


@dataclass(frozen=True, slots=True)
class PromisesTable:
    """The whole table. `between`: in hundredths, where the share of quotes that held lies 19 times in 20."""

    kinds: tuple[Any, ...]
    months: tuple[MonthRow, ...]
    in_all: MonthRow | None
    between: tuple[int, int] | None


def promises_table(scores: Mapping[tuple[date, EntryKind], Score]) -> PromisesTable:
    """The scores in the order of months, latest first, with the kinds that occur."""
    kinds = [kind for kind in EntryKind if any(one is kind for _month, one in scores)]
    months = sorted({month for month, _kind in scores}, reverse=True)
    rows = tuple(_row(month, [scores.get((month, kind), Score()) for kind in kinds]) for month in months)
    if not rows:
        return PromisesTable((), (), None, None)
    by_kind = [sum((scores.get((month, kind), Score()) for month in months), Score()) for kind in kinds]
    in_all = _row(months[0], by_kind)
    quoted = in_all.quoted.score
    between = likely_share(quoted.within, quoted.quoted) if quoted.quoted else None
    return PromisesTable(
        tuple(KINDS[kind] for kind in kinds),
        rows,
        in_all,
        (round(100 * between[0]), round(100 * between[1])) if between else None,
    )


def _row(month: date, by_kind: list[Score]) -> MonthRow:
    together = sum(by_kind, Score())
    return MonthRow(
        month,
        tuple(Cell(one, _hundredths(one.share_kept)) for one in by_kind),
        Cell(together, _hundredths(together.share_kept)),
        Cell(together, _hundredths(together.share_within)),
    )


def _hundredths(share: float | None) -> int | None:
    return None if share is None else round(100 * share)
