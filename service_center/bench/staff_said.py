"""Rows that only staff read: trends across visits, runs of tests, the criteria of ISO 3159."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from service_center.bench.pictures import MINUS, signed, tenths, whole
from service_center.bench.queries import Judged, OverVisits, Runs, leak_over_visits, over_visits
from service_center.bench.said import TestRow, plain, plan_rows, range_in_words
from service_center.bench.staff_words import WHAT_NEXT
from service_center.bench.wording import TESTS
from service_center.measurements.models import TightnessRun
from service_center.measurements.queries import plan_of_run
from service_center.measurements.rules.chronometer import Criterion
from service_center.measurements.rules.limits import Judging, Range
from service_center.measurements.rules.tightness import LIMIT_UG_A_MINUTE
from service_center.measurements.rules.trend import Trend
from service_center.pieces.rules import Chart, chart_of

Write = Callable[[Decimal], str]
LEAK_LIMITS = Range(None, Decimal(LIMIT_UG_A_MINUTE))


@dataclass(frozen=True, slots=True)
class TrendPicture:
    """One figure across visits: its chart, what it says, and the same numbers."""

    key: str
    name: str
    finding: str
    chart: Chart
    limit: str
    rows: list[tuple[date, str, str]]


def trend_pictures(sheets: Sequence[Judged], runs: Runs, judging: Judging) -> list[TrendPicture]:
    """Lowest amplitude and mean rate at full wind, and leak flow, across visits; nothing below two of them."""
    upright, rate = judging.limits["lowest_vertical_amplitude"], judging.limits["mean_rate"]
    amplitudes, rates = over_visits(sheets, "lowest_amplitude"), over_visits(sheets, "mean_rate")
    found = [
        _trend("amplitude", _("Lowest amplitude at full wind"), amplitudes, Range(upright.low, None), "°", whole),
        _trend("rate", _("Mean rate at full wind"), rates, rate, " s/d", signed),
    ]
    if leaks := leak_over_visits(runs):
        over, bar = leaks
        name = _("Leak flow in dry tests at %(bar)s bar") % {"bar": plain(bar)}
        found.append(_trend("leak", name, over, LEAK_LIMITS, " µg/min", tenths))
    return [one for one in found if one]


def _trend(key: str, name: str, over: OverVisits, limits: Range, unit: str, write: Write) -> TrendPicture | None:
    """Drawn with the limit that it heads for: the low one where it falls, else the high one, or the only one."""
    told = over.told
    falls = bool(told and told.falls)
    limit = limits.low if limits.high is None or (falls and limits.low is not None) else limits.high
    if len(over.days) < 2 or limit is None:
        return None
    ahead = _reaches(told, limits, over.days[-1]) if told else None
    days = (
        [("evidence", ahead, _("Reaches the limit: %(day)s") % {"day": date_format(ahead, "j M Y")})] if ahead else []
    )
    return TrendPicture(
        key=f"trend-{key}",
        name=name,
        finding=_finding(over, ahead, unit),
        chart=chart_of(
            start=over.days[0],
            visits=[(day, float(round(value, 1))) for day, value in zip(over.days, over.values, strict=True)],
            limit=float(limit),
            limit_text=_("limit %(limit)s") % {"limit": f"{write(limit)}{unit}"},
            trend=told,
            days=days,
            unit=unit.strip() if unit == "°" else "",
        ),
        limit=f"{write(limit)}{unit}",
        rows=[
            (day, f"{write(value)}{unit}", f"{write(Decimal(told.on(day)))}{unit}" if told else "")
            for day, value in zip(over.days, over.values, strict=True)
        ],
    )


def _reaches(told: Trend, limits: Range, last: date) -> date | None:
    """The day after the last visit on which the line leaves its limits; None where it heads for none, or is past it."""
    if told.falls:
        day = None if limits.low is None or told.on(last) <= limits.low else told.falls_to(float(limits.low))
    else:
        day = None if limits.high is None or told.on(last) >= limits.high else told.rises_to(float(limits.high))
    return day if day and day > last else None


def _finding(over: OverVisits, ahead: date | None, unit: str) -> str:
    if over.trend is None:
        return _("Two visits so far: a trend needs three.")
    change = f"{over.trend.a_year:+.1f}".replace("-", MINUS)
    ends = {
        "visits": len(over.days),
        "change": f"{change}{unit}",
        "low": f"{over.trend.low:+.1f}".replace("-", MINUS),
        "high": f"{over.trend.high:+.1f}".replace("-", MINUS),
    }
    said = _("Over %(visits)s visits it changes by %(change)s a year (95 %% interval %(low)s to %(high)s).") % ends
    if over.told is None:
        return f"{said} " + _("That cannot be told from no change, so no day is projected.")
    if ahead:
        return f"{said} " + _("At that pace it reaches the limit on %(day)s.") % {"day": date_format(ahead, "j F Y")}
    return said


@dataclass(frozen=True, slots=True)
class RunRow:
    """One run of tests: when, for what, how it ended and what comes next."""

    run: TightnessRun
    state: str
    ended: str
    next: str
    tests: list[TestRow]


def run_rows(runs: Runs) -> list[RunRow]:
    """A piece's runs, latest first."""
    found = []
    for run, results in runs:
        tests = plan_rows(plan_of_run(run), results)
        last = results[-1] if results else None
        if last and not last.passed:
            said = _("Failed: %(test)s") % {"test": TESTS[last.test]}
            found.append(RunRow(run, "failed", said, str(WHAT_NEXT[last.test]), tests))
        elif tests and all(one.state == "passed" for one in tests):
            found.append(RunRow(run, "passed", _("Passed every test"), "", tests))
        else:
            found.append(RunRow(run, "waiting", _("Under way"), "", tests))
    return found


def criterion_rows(criteria: Sequence[Criterion]) -> list[dict[str, Any]]:
    """The criteria of ISO 3159, each with its value or why it has none."""
    return [
        {
            "name": one.name,
            "meaning": one.meaning,
            "value": "" if one.value is None else f"{one.value:.3f}".rstrip("0").rstrip(".").replace("-", MINUS),
            "limits": range_in_words(Range(one.low, one.high), "s/d/°C" if one.name == "C" else "s/d"),
            "within": one.within,
            "missing": ", ".join(map(str, one.missing)),
        }
        for one in criteria
    ]
