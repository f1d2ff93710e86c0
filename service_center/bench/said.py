"""Rows for the bench's pages and papers: what was measured, in words and figures."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from service_center.bench.pictures import MINUS, signed, whole
from service_center.bench.queries import Judged, OverVisits, over_visits
from service_center.bench.staff_words import PASSES, WHAT_NEXT
from service_center.bench.wording import CONTROLS, FIGURES, RATE_UNIT, TESTS, UNITS
from service_center.measurements.models import ReserveReading, TightnessResult, TightnessRun
from service_center.measurements.queries import plan_of_run
from service_center.measurements.rules.chronometer import Criterion
from service_center.measurements.rules.limits import Judging, Range, Verdict
from service_center.measurements.rules.reserve import Control, reserve_verdict
from service_center.measurements.rules.tightness import METRES_A_BAR, PlannedTest, TightnessTest, next_test
from service_center.pieces.rules import Chart, chart_of


@dataclass(frozen=True, slots=True)
class VerdictRow:
    """One figure: its value, its limits, whether it is within, and the readings that decided it."""

    name: str
    value: str
    limits: str
    within: bool | None
    decided_by: str


def verdict_rows(verdicts: Sequence[Verdict]) -> list[VerdictRow]:
    """Verdicts in the language that is active."""
    return [_verdict_row(one) for one in verdicts]


def _verdict_row(one: Verdict) -> VerdictRow:
    unit, decimals = UNITS.get(one.figure, RATE_UNIT)
    write = signed if unit == RATE_UNIT[0] and not one.figure.startswith("delta") else lambda v: number_format(v, decimals)
    return VerdictRow(
        name=str(FIGURES[one.figure]),
        value="" if one.value is None else f"{write(one.value)} {unit}",
        limits=range_in_words(one.limits, unit),
        within=one.within,
        decided_by=", ".join(
            f"{reading.position}{' ' + _('24 h') if reading.wind.value == '24h' else ''}" for reading in one.decided_by
        ),
    )


def range_in_words(limits: Range, unit: str) -> str:
    """-5 to +15 s/d; at least 250°; at most 1 ms."""

    def end(value: Decimal) -> str:
        return f"{value.normalize():f}".replace("-", MINUS)

    if limits.low is not None and limits.high is not None:
        return _("%(low)s to %(high)s %(unit)s") % {"low": end(limits.low), "high": end(limits.high), "unit": unit}
    if limits.low is not None:
        return _("at least %(low)s %(unit)s") % {"low": end(limits.low), "unit": unit}
    if limits.high is not None:
        return _("at most %(high)s %(unit)s") % {"high": end(limits.high), "unit": unit}
    return ""


@dataclass(frozen=True, slots=True)
class TrendPicture:
    """One figure across visits: its chart, what it says, and the same numbers."""

    key: str
    name: str
    finding: str
    chart: Chart
    limit: str
    rows: list[tuple[Any, str, str]]


def trend_pictures(sheets: Sequence[Judged], judging: Judging) -> list[TrendPicture]:
    """Mean rate and lowest amplitude at full wind across visits; nothing below two of them."""
    upright = judging.limits["lowest_vertical_amplitude"].low
    of_rate = over_visits(sheets, "mean_rate")
    rate_limits = judging.limits["mean_rate"]
    falls = bool(of_rate.told and of_rate.told.falls)
    found = [
        _trend("amplitude", _("Lowest amplitude at full wind"), over_visits(sheets, "lowest_amplitude"), upright, "°", whole),
        _trend(
            "rate", _("Mean rate at full wind"), of_rate, rate_limits.low if falls else rate_limits.high, " s/d", signed
        ),
    ]
    return [one for one in found if one]


def _trend(key: str, name: str, over: OverVisits, limit: Decimal | None, unit: str, write: Any) -> TrendPicture | None:
    if len(over.days) < 2 or limit is None:
        return None
    told = over.told
    meets = (told.falls_to(float(limit)) if told.falls else told.rises_to(float(limit))) if told else None
    ahead = meets if meets and meets > over.days[-1] and _heads_for(over, limit) else None
    days = [("evidence", ahead, _("Reaches the limit: %(day)s") % {"day": date_format(ahead, "j M Y")})] if ahead else []
    return TrendPicture(
        key=f"trend-{key}",
        name=name,
        finding=_finding(over, ahead, unit),
        chart=chart_of(
            start=over.days[0],
            visits=[(day, float(value)) for day, value in zip(over.days, over.values, strict=True)],
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


def _heads_for(over: OverVisits, limit: Decimal) -> bool:
    """Whether the line is still on the good side of the limit at the last visit."""
    told = over.told
    if told is None:
        return False
    now = told.on(over.days[-1])
    return now > float(limit) if told.falls else now < float(limit)


def _finding(over: OverVisits, ahead: Any, unit: str) -> str:
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
class TestRow:
    """One test, planned or made. `state`: passed, failed, next, or empty where it is still to come."""

    test: str
    name: str
    planned: str
    passes: str
    state: str
    said: str
    remark: str


def pressure_in_words(bar: Decimal | None, minutes: Decimal | None) -> str:
    """12.5 bar (125 m of the marking), 10 min."""
    said = []
    if bar is not None:
        plain = number_format(bar.normalize(), max(0, -int(bar.normalize().as_tuple().exponent)))
        metres = bar * METRES_A_BAR
        in_bar = _("%(bar)s bar") % {"bar": plain.replace("-", MINUS)}
        marking = _("%(metres)s m of the marking") % {"metres": f"{metres.normalize():f}"}
        said.append(f"{in_bar} ({marking})" if bar > 0 else in_bar)
    if minutes is not None:
        said.append(_("%(minutes)s min") % {"minutes": f"{minutes.normalize():f}"})
    return ", ".join(said)


def plan_rows(plan: Sequence[PlannedTest], results: Sequence[TightnessResult]) -> list[TestRow]:
    """The tests of a plan in their order, with what was made of them so far."""
    made = {one.test: one for one in results}
    upcoming = None
    if plan and (results or made == {}):
        upcoming = next_test([one.test for one in plan], [(TightnessTest(one.test), one.passed) for one in results])
    found = []
    for one in plan:
        result = made.get(one.test)
        state = ("passed" if result.passed else "failed") if result else "next" if one.test is upcoming else ""
        found.append(
            TestRow(
                one.test.value,
                str(TESTS[one.test]),
                pressure_in_words(one.bar, one.minutes),
                str(PASSES[one.test]),
                state,
                _result_in_words(result) if result else "",
                result.remark if result else "",
            )
        )
    return found


def _result_in_words(result: TightnessResult) -> str:
    said = [pressure_in_words(result.bar, result.minutes)]
    if result.micrograms_a_minute is not None:
        flow = number_format(result.micrograms_a_minute, 1)
        said.append(_("%(flow)s µg of air a minute, limit 50") % {"flow": flow})
    return "; ".join(part for part in said if part)


@dataclass(frozen=True, slots=True)
class RunRow:
    """One run of tests: when, for what, how it ended and what comes next."""

    run: TightnessRun
    state: str
    ended: str
    next: str
    tests: list[TestRow]


def run_rows(runs: Sequence[tuple[TightnessRun, list[TightnessResult]]]) -> list[RunRow]:
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


@dataclass(frozen=True, slots=True)
class ReserveRow:
    """One running time against its nominal."""

    control: str
    name: str
    reading: ReserveReading
    hours: str
    nominal: str
    within: bool | None
    short: str


def reserve_rows(reserves: Sequence[ReserveReading]) -> list[ReserveRow]:
    """Running times by control, the three kept apart; within each the latest first."""
    order = list(Control)
    found = []
    for one in sorted(reserves, key=lambda one: order.index(Control(one.control))):
        verdict = reserve_verdict(one.hours, one.nominal_h)
        short = verdict.short_h
        found.append(
            ReserveRow(
                one.control,
                str(CONTROLS[one.control]),
                one,
                _hours(one.hours),
                "" if one.nominal_h is None else _hours(one.nominal_h),
                verdict.within,
                "" if not short else _("%(hours)s short") % {"hours": _hours(short)},
            )
        )
    return found


def _hours(hours: Decimal) -> str:
    return _("%(hours)s h") % {"hours": f"{hours.normalize():f}"}


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
