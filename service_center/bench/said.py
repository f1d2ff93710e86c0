"""Rows for the bench's pages and papers: what was measured, in words and figures. An owner reads them too."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from service_center.bench.pictures import MINUS, rounded, signed
from service_center.bench.staff_words import PASSES
from service_center.bench.wording import CONTROLS, FIGURES, RATE_UNIT, TESTS, UNITS
from service_center.measurements.models import ReserveReading, TightnessResult
from service_center.measurements.rules.limits import Range, Verdict
from service_center.measurements.rules.reserve import Control, reserve_verdict
from service_center.measurements.rules.tightness import METRES_A_BAR, PlannedTest, TightnessTest, next_test


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
    gains = unit == RATE_UNIT[0] and not one.figure.startswith("delta")
    value = ""
    if one.value is not None:
        value = with_unit(signed(one.value) if gains else rounded(one.value, decimals), unit)
    return VerdictRow(
        name=str(FIGURES[one.figure]),
        value=value,
        limits=range_in_words(one.limits, unit),
        within=one.within,
        decided_by=", ".join(
            f"{reading.position}{' ' + _('24 h') if reading.wind.value == '24h' else ''}" for reading in one.decided_by
        ),
    )


def range_in_words(limits: Range, unit: str) -> str:
    """-5 to 15 s/d; at least 250°; at most 1 ms."""

    def end(value: Decimal) -> str:
        return plain(value).replace("-", MINUS)

    if limits.low is not None and limits.high is not None:
        return _("%(low)s to %(high)s") % {"low": end(limits.low), "high": with_unit(end(limits.high), unit)}
    if limits.low is not None:
        return _("at least %(low)s") % {"low": with_unit(end(limits.low), unit)}
    if limits.high is not None:
        return _("at most %(high)s") % {"high": with_unit(end(limits.high), unit)}
    return ""


def with_unit(text: str, unit: str) -> str:
    """250°, but 1.2 s/d; the blank does not break."""
    return f"{text}{unit}" if unit == "°" else f"{text}\N{NO-BREAK SPACE}{unit}"


def plain(value: Decimal) -> str:
    """A number without needless noughts, as the reader writes it."""
    short = value.normalize()
    return number_format(short, max(0, -int(short.as_tuple().exponent)))


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
        in_bar = with_unit(plain(bar).replace("-", MINUS), "bar")
        marking = _("%(metres)s m of the marking") % {"metres": plain(bar * METRES_A_BAR)}
        said.append(f"{in_bar} ({marking})" if bar > 0 else in_bar)
    if minutes is not None:
        said.append(with_unit(plain(minutes), "min"))
    return ", ".join(said)


def plan_rows(plan: Sequence[PlannedTest], results: Sequence[TightnessResult]) -> list[TestRow]:
    """The tests of a plan in their order, with what was made of them so far."""
    made = {one.test: one for one in results}
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
        flow = rounded(result.micrograms_a_minute, 1)
        said.append(_("%(flow)s µg of air a minute, limit 50") % {"flow": flow})
    return "; ".join(part for part in said if part)


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
    return with_unit(plain(hours), "h")
