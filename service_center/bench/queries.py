"""What the bench's pages read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from service_center.book.models import Calibre, Custody, HistoryEntry, Piece
from service_center.book.rules import DoneBy, Place
from service_center.intake.models import DropOff
from service_center.intake.queries import day_at
from service_center.measurements.models import TightnessResult, TightnessRun, TimingSheet
from service_center.measurements.queries import judging_of, sheets_of
from service_center.measurements.rules import Reading, Wind, figures_of
from service_center.measurements.rules.limits import Judging, Verdict, not_read, verdicts_on
from service_center.measurements.rules.tightness import TightnessTest
from service_center.measurements.rules.trend import Trend, trend_of
from service_center.pieces.timeline.moment import name_of

Runs = Sequence[tuple[TightnessRun, list[TightnessResult]]]


def calibre_of(piece: Piece) -> Calibre | None:
    """A piece's calibre, where its model and that model's calibre are known."""
    return piece.model.calibre if piece.model else None


@dataclass(frozen=True, slots=True)
class Judged:
    """A sheet with its verdicts. `outside` are the figures out of their limits; `unread` the positions that lack."""

    sheet: TimingSheet
    readings: Sequence[Reading]
    verdicts: list[Verdict]
    outside: list[Verdict]
    unread: list[str]
    corrected_by: int | None

    @property
    def by(self) -> str:
        """Who took it; empty where nobody knows."""
        return name_of(self.sheet.taken_by) if self.sheet.taken_by else ""

    @property
    def mean_rate(self) -> Decimal | None:
        return self.verdicts[0].value

    @property
    def lowest_amplitude(self) -> Decimal | None:
        """Of all positions at full wind."""
        lowest = figures_of(self.readings).winds[Wind.FULL].lowest_amplitude
        return lowest.value if lowest else None


def judge(sheet: TimingSheet, readings: Sequence[Reading], judging: Judging, corrected_by: int | None = None) -> Judged:
    """The verdicts on one sheet by a calibre's own limits and positions."""
    verdicts = verdicts_on(readings, judging)
    outside = [one for one in verdicts if one.within is False]
    return Judged(sheet, readings, verdicts, outside, not_read(readings, judging), corrected_by)


def judged_sheets(piece: Piece, *, as_of: date | None = None) -> list[Judged]:
    """A piece's sheets with their verdicts, latest first; those that were struck out have no readings. Four statements."""
    judging = judging_of(calibre_of(piece))
    sheets = sheets_of(piece, as_of=as_of)
    corrected = {sheet.voids_id: sheet.pk for sheet, _readings in sheets if sheet.voids_id}
    return [judge(sheet, readings, judging, corrected.get(sheet.pk)) for sheet, readings in sheets]


@dataclass(frozen=True, slots=True)
class OverVisits:
    """One figure across the visits that count, oldest first, with its trend where there are three or more."""

    days: list[date]
    values: list[Decimal]
    trend: Trend | None

    @property
    def told(self) -> Trend | None:
        """The trend, where its slope can be told from none."""
        return self.trend if self.trend and (self.trend.falls or self.trend.rises) else None


def over_visits(sheets: Sequence[Judged], figure: str) -> OverVisits:
    """`figure`: a property of `Judged`. Of several sheets of a day the latest counts."""
    read = ((one.sheet.taken_on, getattr(one, figure)) for one in reversed(sheets) if one.corrected_by is None)
    return _over({day: value for day, value in read if value is not None})


def leak_over_visits(runs: Runs) -> tuple[OverVisits, Decimal] | None:
    """Leak flow (micrograms of air a minute) of the dry tests under overpressure, and that overpressure in bar.

    A flow grows with the load, so that only tests at the overpressure of the latest one are told together; of several
    of a day the latest counts. None without a test whose flow is known.
    """
    made = sorted(
        (one.made_on, one.pk, one.bar, one.micrograms_a_minute)
        for _run, results in runs
        for one in results
        if one.test == TightnessTest.DRY_PRESSURE and one.micrograms_a_minute is not None and one.bar is not None
    )
    if not made:
        return None
    latest_bar = made[-1][2]
    return _over({day: flow for day, _pk, bar, flow in made if bar == latest_bar}), latest_bar


def _over(by_day: Mapping[date, Decimal]) -> OverVisits:
    days = sorted(by_day)
    values = [by_day[day] for day in days]
    return OverVisits(days, values, trend_of(days, [float(value) for value in values]))


@dataclass(frozen=True, slots=True)
class Stay:
    """One stay of a piece with us, for its service report: sheets before and after, and what was done meanwhile."""

    drop_off: DropOff
    before: TimingSheet | None
    after: Judged | None
    work: list[HistoryEntry]
    returned_on: date | None

    @property
    def is_over(self) -> bool:
        return self.returned_on is not None


def stays_of(piece: Piece, sheets: Sequence[Judged]) -> list[Stay]:
    """A piece's stays, latest first, by its drop-offs: what was read or done after it went back is of none. Three statements."""
    drop_offs = list(
        DropOff.objects.filter(piece=piece)
        .select_related("sheet", "boutique", "owner", "move")
        .order_by("-taken_on", "-pk")
    )
    returns = list(
        Custody.objects.filter(piece=piece, place=Place.OWNER.value).order_by("since").values_list("since", flat=True)
    )
    work = list(
        HistoryEntry.objects.filter(piece=piece, done_by=DoneBy.OWN.value, corrections__isnull=True).order_by(
            "done_on", "pk"
        )
    )
    found = []
    until = date.max
    for drop_off in drop_offs:
        back = next((since for since in returns if since > drop_off.move.since), None)
        returned = timezone.localdate(back) if back else None
        # What is read at the counter on the last day is dated by the boutique, whose calendar may be a day ahead.
        last = max(returned, day_at(drop_off.boutique, back)) if returned and back else date.max
        inside = [
            one
            for one in sheets
            if drop_off.taken_on <= one.sheet.taken_on < until
            and one.sheet.taken_on <= last
            and one.sheet.pk != drop_off.sheet_id
            and one.corrected_by is None
            and one.readings
        ]
        done = [entry for entry in work if drop_off.taken_on <= entry.done_on < until and entry.done_on <= last]
        found.append(Stay(drop_off, _counting(drop_off, sheets), inside[0] if inside else None, done, returned))
        until = drop_off.taken_on
    return found


def _counting(drop_off: DropOff, sheets: Sequence[Judged]) -> TimingSheet | None:
    """The drop-off's sheet, or the one that corrects it."""
    by_key = {one.sheet.pk: one for one in sheets}
    sheet = by_key.get(drop_off.sheet_id or 0)
    while sheet and sheet.corrected_by:
        sheet = by_key.get(sheet.corrected_by)
    return sheet.sheet if sheet else None
