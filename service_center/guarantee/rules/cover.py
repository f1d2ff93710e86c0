"""What covers a piece on a day. Source: design/intake.md, guarantee; months after Regulation 1182/71, Art. 3(2)(c).

The day of sale is not counted and the last day is covered. All months are added to the day of sale in one step:
sold on 29 February 2024, base to 28 February 2026, extended to 29 February 2032.
"""

from collections.abc import Callable, Iterable
from datetime import date, timedelta

from service_center.guarantee.rules.decision import Cover, CoveredBy, Decision, Reason
from service_center.guarantee.rules.terms import HOUSE_TERMS, Terms, Work
from service_center.intervals.rules import add_months

IsWorkingDay = Callable[[date], bool]

# What pays first where several run: the base, then the guarantee on our own work, then the extension.
# Common practice (design/facts.md, 6, coverage order).
ORDER = (CoveredBy.BASE, CoveredBy.WORK, CoveredBy.EXTENSION)
RUNS = {
    CoveredBy.BASE: Reason.BASE_RUNS,
    CoveredBy.WORK: Reason.WORK_RUNS,
    CoveredBy.EXTENSION: Reason.EXTENSION_RUNS,
}


def cover(
    *,
    sold_on: date | None,
    extension_enrolled_on: date | None,
    history: Iterable[Work],
    as_of: date,
    is_working_day: IsWorkingDay,
    terms: Terms = HOUSE_TERMS,
) -> Decision:
    """The decision for a piece on a day, from the facts dated up to it."""
    sold = sold_on if sold_on and sold_on <= as_of else None
    enrolled = extension_enrolled_on if extension_enrolled_on and extension_enrolled_on <= as_of else None
    base = _sale_cover(sold, terms, is_working_day) if sold else None
    extension = _extension(sold, base, enrolled, terms, is_working_day) if sold and base else None
    work = _work([entry for entry in history if entry.done_on <= as_of], terms, is_working_day)

    covers = tuple(one for one in (base, work, extension) if one)
    running = next((one.by for by in ORDER for one in covers if one.by is by and one.runs_on(as_of)), CoveredBy.NONE)
    return Decision(
        as_of=as_of,
        covered_by=running,
        reason=RUNS.get(running) or _why_not(base, extension, sold, enrolled),
        covers=covers,
        enrol_by=base.to_on if base and base.runs_on(as_of) and not extension else None,
        perhaps=_perhaps(covers, as_of) if running is CoveredBy.NONE else None,
    )


def _sale_cover(sold: date, terms: Terms, is_working_day: IsWorkingDay) -> Cover:
    return _cover(CoveredBy.BASE, sold, add_months(sold, terms.base_months), is_working_day)


def _extension(
    sold: date, base: Cover, enrolled: date | None, terms: Terms, is_working_day: IsWorkingDay
) -> Cover | None:
    """From the day after the base to the extended end, for owners who enrolled while the base was running."""
    if enrolled is None or not base.runs_on(enrolled):
        return None
    first = base.to_on + timedelta(days=1)
    return _cover(CoveredBy.EXTENSION, first, add_months(sold, terms.extended_months), is_working_day)


def _work(done: list[Work], terms: Terms, is_working_day: IsWorkingDay) -> Cover | None:
    """The guarantee of the latest own work: it ends last."""
    latest = max((entry.done_on for entry in done if entry.carries_guarantee), default=None)
    if latest is None:
        return None
    return _cover(CoveredBy.WORK, latest, add_months(latest, terms.work_months), is_working_day)


def _cover(by: CoveredBy, first: date, last: date, is_working_day: IsWorkingDay) -> Cover:
    moved = last
    while not is_working_day(moved):
        moved += timedelta(days=1)
    return Cover(by, first, last, moved)


def _why_not(base: Cover | None, extension: Cover | None, sold: date | None, enrolled: date | None) -> Reason:
    if base is None or sold is None:
        return Reason.NO_SALE_DATE
    if extension:
        return Reason.EXTENSION_OVER
    if enrolled is None:
        return Reason.NOT_EXTENDED
    return Reason.ENROLLED_BEFORE_SALE if enrolled < sold else Reason.ENROLLED_LATE


def _perhaps(covers: tuple[Cover, ...], as_of: date) -> Cover | None:
    """A guarantee whose last day was no working day, and which runs still if that day moves on."""
    return next((one for by in ORDER for one in covers if one.by is by and one.to_on < as_of <= one.moved_to), None)
