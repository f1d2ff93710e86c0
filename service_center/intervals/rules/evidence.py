"""Readings that bring the overhaul forward, never push it back (due-dates.md, evidence)."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from service_center.intervals.rules.facts import Amplitude
from service_center.measurements.rules import Wind
from service_center.measurements.rules.service_limits import ServiceLimits
from service_center.measurements.rules.trend import Trend, trend_of


class EvidenceFact(StrEnum):
    """What was seen."""

    READING = "reading"  # one fell short of the limit: the overhaul is owed
    TREND = "trend"  # a falling line reaches the limit before the due date


@dataclass(frozen=True, slots=True)
class Evidence:
    """What brings an overhaul forward. `on` is the day of the reading, or the day on which the line meets the limit.

    `degrees` and `position` belong to a reading; `visits` and `degrees_a_year` (with its interval) to a trend.
    """

    fact: EvidenceFact
    on: date
    wind: Wind
    limit: float
    position: str = ""
    degrees: float | None = None
    visits: int | None = None
    degrees_a_year: float | None = None
    interval: tuple[float, float] | None = None

    def record(self) -> dict[str, Any]:
        """Plain values, ready for JSON."""
        return {
            "fact": self.fact.value,
            "on": self.on.isoformat(),
            "wind": self.wind.value,
            "limit": self.limit,
            "position": self.position,
            "degrees": self.degrees,
            "visits": self.visits,
            "degrees_a_year": self.degrees_a_year,
            "interval": list(self.interval) if self.interval else None,
        }


def evidence_from_record(record: dict[str, Any]) -> Evidence:
    """What `Evidence.record` wrote."""
    interval = record["interval"]
    return Evidence(
        fact=EvidenceFact(record["fact"]),
        on=date.fromisoformat(record["on"]),
        wind=Wind(record["wind"]),
        limit=record["limit"],
        position=record["position"],
        degrees=record["degrees"],
        visits=record["visits"],
        degrees_a_year=record["degrees_a_year"],
        interval=(interval[0], interval[1]) if interval else None,
    )


@dataclass(frozen=True, slots=True)
class Series:
    """One figure across visits: the lowest amplitude of a wind state, over the positions that every visit read.

    `days`, `degrees` and `lowest_in` (the position that showed the lowest) are of one length, a visit each.
    """

    wind: Wind
    limit: float
    positions: tuple[str, ...]
    days: tuple[date, ...]
    degrees: tuple[float, ...]
    lowest_in: tuple[str, ...]

    def trend(self) -> Trend | None:
        """Its trend, from three visits on."""
        return trend_of(self.days, self.degrees)


def reading_that_falls_short(amplitudes: Iterable[Amplitude], start: date, limits: ServiceLimits) -> Evidence | None:
    """The earliest reading after the start below its limit; of one day's the lowest. At the limit is not below it."""
    short = [
        (one.taken_on, one.degrees, one.position, one.wind, limit)
        for one in amplitudes
        if one.taken_on > start and (limit := limits.limit(one.wind, one.position)) is not None and one.degrees < limit
    ]
    if not short:
        return None
    day, degrees, position, wind, limit = min(short)
    return Evidence(EvidenceFact.READING, day, wind, limit, position=position, degrees=degrees)


def trend_to_a_limit(amplitudes: Iterable[Amplitude], start: date, limits: ServiceLimits) -> Evidence | None:
    """The earliest day on which a trend over three or more visits after the start reaches its limit, or None."""
    found = []
    for series in series_after(amplitudes, start, limits):
        trend = series.trend()
        day = trend.falls_to(series.limit) if trend else None
        if trend and day:
            found.append(
                Evidence(
                    EvidenceFact.TREND,
                    day,
                    series.wind,
                    series.limit,
                    visits=trend.visits,
                    degrees_a_year=round(trend.a_year, 2),
                    interval=(round(trend.low, 2), round(trend.high, 2)),
                )
            )
    return min(found, key=lambda evidence: (evidence.on, evidence.wind), default=None)


def series_after(amplitudes: Iterable[Amplitude], start: date, limits: ServiceLimits) -> list[Series]:
    """The figures that a limit is set for, across the visits after a start; one a wind state that was read at all.

    A visit is a day. Only positions that every visit read are compared, so that a quick look in two positions does
    not pass for a better movement; of two readings of one position on one day the lower counts.
    """
    visits: dict[Wind, dict[date, dict[str, float]]] = defaultdict(lambda: defaultdict(dict))
    for one in amplitudes:
        if one.taken_on > start and limits.limit(one.wind, one.position) is not None:
            of_the_day = visits[one.wind][one.taken_on]
            of_the_day[one.position] = min(one.degrees, of_the_day.get(one.position, one.degrees))
    found = []
    for wind, days in sorted(visits.items()):
        common = sorted(set.intersection(*(set(read) for read in days.values())))
        if common:
            limit = limits.limit(wind, common[0])
            assert limit is not None  # only positions with a limit were taken
            in_order = sorted(days)
            lowest = [min((days[day][position], position) for position in common) for day in in_order]
            degrees, lowest_in = zip(*lowest, strict=True)
            found.append(Series(wind, limit, tuple(common), tuple(in_order), degrees, lowest_in))
    return found
