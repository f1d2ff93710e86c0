"""What was measured since the overhaul's interval began, for people: two dates side by side, findings, charts."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from service_center.intervals.rules import Due, Evidence, EvidenceFact, Series
from service_center.measurements.rules import Wind
from service_center.measurements.rules.trend import FEWEST_VISITS, Trend
from service_center.pieces.rules import Chart, chart_of
from service_center.pieces.timeline.moment import day_in_words

CLOSE_TO_DECIDING = (Wind.AFTER_24H, Wind.FULL)


@dataclass(frozen=True, slots=True)
class Row:
    """One visit in the table: what was read, where it was lowest, and where the line stands. Degrees."""

    on: date
    degrees: float
    position: str
    below: bool
    line: str


@dataclass(frozen=True, slots=True)
class Figure:
    """One reading across visits: its chart and the same numbers as a table."""

    key: str
    name: str
    positions: str
    finding: str
    chart: Chart
    rows: list[Row]
    limit: str


@dataclass(frozen=True, slots=True)
class Measured:
    """The date by rule beside the date by evidence, why, and the figures, the one that decides first."""

    start: date
    by_rule: date
    by_evidence: date | None
    decides: str
    figures: list[Figure]


def measured(due: Due | None, series: list[Series]) -> Measured | None:
    """What the readings since the start say of an overhaul's date; None where nothing was read. No statements."""
    if due is None or due.start is None or due.by_rule is None or not (series or due.evidence):
        return None
    evidence = due.evidence
    figures = [_figure(one, due) for one in sorted(series, key=lambda one: _order(one, evidence))]
    return Measured(due.start.on, due.by_rule.due_on, evidence.on if evidence else None, _decides(due), figures)


def wound(wind: Wind) -> str:
    """The figure's name by how far the mainspring has run down."""
    return _("Amplitude at full wind, any position") if wind is Wind.FULL else _("Amplitude after 24 h, crown vertical")


def _order(series: Series, evidence: Evidence | None) -> tuple[bool, int, int]:
    decides = evidence is not None and evidence.wind is series.wind
    return not decides, -len(series.days), CLOSE_TO_DECIDING.index(series.wind)


def _decides(due: Due) -> str:
    seen, alone = due.evidence, due.by_rule
    assert alone is not None  # `measured` asked for it
    if seen is None:
        return _("Nothing that was read brings the overhaul forward: the day by the rule stands.")
    if seen.fact is EvidenceFact.TREND:
        return _("The trend decides: it reaches the limit before the day by the rule.")
    words = {
        "day": day_in_words(seen.on),
        "degrees": f"{seen.degrees:g}",
        "position": seen.position,
        "limit": f"{seen.limit:g}",
    }
    return {
        Wind.FULL: _("A reading decides: %(degrees)s° in %(position)s at full wind on %(day)s is below %(limit)s°, so the overhaul is owed from that day."),
        Wind.AFTER_24H: _("A reading decides: %(degrees)s° in %(position)s after 24 h on %(day)s is below %(limit)s°, so the overhaul is owed from that day."),
    }[seen.wind] % words  # fmt: skip


def _figure(series: Series, due: Due) -> Figure:
    assert due.start is not None and due.by_rule is not None
    trend = series.trend()
    told = trend if trend and (trend.falls or trend.rises) else None
    meets = trend.falls_to(series.limit) if trend else None
    days = [("rule", due.by_rule.due_on, _("Due by the rule: %(day)s") % {"day": day_in_words(due.by_rule.due_on)})]
    if meets:
        days.append(("evidence", meets, _("Reaches the limit: %(day)s") % {"day": day_in_words(meets)}))
    limit = f"{series.limit:g}°"
    return Figure(
        series.wind.value,
        wound(series.wind),
        ", ".join(series.positions),
        _finding(series, trend, due.by_rule.due_on),
        chart_of(
            start=due.start.on,
            visits=list(zip(series.days, series.degrees, strict=True)),
            limit=series.limit,
            limit_text=_("limit %(limit)s") % {"limit": limit},
            trend=told,
            days=days,
        ),
        [
            Row(day, degrees, position, degrees < series.limit, f"{told.on(day):.0f}°" if told else "")
            for day, degrees, position in zip(series.days, series.degrees, series.lowest_in, strict=True)
        ],
        limit,
    )


def _finding(series: Series, trend: Trend | None, by_rule: date) -> str:
    visits = len(series.days)
    if trend is None:
        return ngettext(
            "%(visits)s visit so far: a trend needs %(fewest)s.", "%(visits)s visits so far: a trend needs %(fewest)s.", visits
        ) % {"visits": visits, "fewest": FEWEST_VISITS}  # fmt: skip
    words = {
        "visits": visits,
        "change": _signed(trend.a_year),
        "low": _signed(trend.low),
        "high": _signed(trend.high),
        "limit": f"{series.limit:g}°",
    }
    slope = _("Over %(visits)s visits it changes by %(change)s a year (95 %% interval %(low)s to %(high)s).") % words
    return f"{slope} {_projected(series, trend, by_rule, words)}"


def _projected(series: Series, trend: Trend, by_rule: date, words: dict[str, object]) -> str:
    if min(series.degrees) < series.limit:
        return _("A reading is below the limit of %(limit)s already, so no day is projected.") % words
    if trend.rises:
        return _("It rises, so it reaches no limit.")
    between, day = trend.falls_between(series.limit), trend.falls_to(series.limit)
    if between is None:
        return _("That cannot be told from no change, so no day is projected.")
    if day is None:
        return _("At that pace the limit of %(limit)s lies beyond the calendar.") % words
    first, last = between
    ends = {**words, "day": day_in_words(day), "first": day_in_words(first), "last": day_in_words(last) if last else ""}
    met = (
        _("It reaches the limit of %(limit)s on %(day)s (between %(first)s and %(last)s).")
        if last
        else _("It reaches the limit of %(limit)s on %(day)s (not before %(first)s).")
    ) % ends
    if day < by_rule:
        return met
    return f"{met} {_('That is no earlier than the day by the rule, which stands.')}"


def _signed(a_year: float) -> str:
    return f"{a_year:+.1f}°".replace("-", "−")
