"""What was worked out from a sheet or a series, as outside.md writes it: plain values, ready for JSON."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from service_center.measurements.rules import Reading, Wind, figures_of
from service_center.measurements.rules.chronometer import Criterion, all_within
from service_center.measurements.rules.limits import Verdict
from service_center.measurements.rules.sheet import Extreme, WindFigures


def timing_report(readings: Sequence[Reading], verdicts: Sequence[Verdict]) -> dict[str, Any]:
    """A figure that the sheet cannot give is None."""
    figures = figures_of(readings)
    return {
        "winds": {wind.value: _wind(figures.winds[wind]) for wind in (Wind.FULL, Wind.AFTER_24H)},
        "isochronism": _number(figures.isochronism),
        "amplitude_drop": {position: _number(drop) for position, drop in figures.amplitude_drop.items()},
        "verdicts": [_verdict(one) for one in verdicts],
    }


def _wind(figures: WindFigures) -> dict[str, Any]:
    return {
        "positions": list(figures.positions),
        "mean_rate": _number(figures.mean_rate),
        "delta": _number(figures.delta),
        "horizontal_minus_vertical": _number(figures.horizontal_minus_vertical),
        "lowest_amplitude": _extreme(figures.lowest_amplitude),
        "highest_beat_error": _extreme(figures.highest_beat_error),
    }


def _extreme(extreme: Extreme | None) -> dict[str, Any] | None:
    return {"position": extreme.position, "value": _number(extreme.value)} if extreme else None


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "figure": verdict.figure,
        "value": _number(verdict.value),
        "low": _number(verdict.limits.low),
        "high": _number(verdict.limits.high),
        "within": verdict.within,
        "decided_by": [{"position": one.position, "wind": one.wind.value} for one in verdict.decided_by],
    }


def chronometer_report(criteria: list[Criterion]) -> dict[str, Any]:
    """A criterion whose days are missing has no value."""
    return {
        "criteria": [
            {
                "name": one.name,
                "value": _number(one.value),
                "low": _number(one.low),
                "high": _number(one.high),
                "within": one.within,
            }
            for one in criteria
        ],
        "all_within": all_within(criteria),
    }


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
