"""What covers a piece on a day. Source: design/intake.md, guarantee; months after Regulation 1182/71, Art. 3(2)(c).

The day of sale is not counted and the last day is covered. All months are added to the day of sale in one step:
sold on 29 February 2024, base to 28 February 2026, extended to 29 February 2032.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta

from service_center.guarantee.rules.decision import Cover, CoveredBy, Decision, Reason
from service_center.guarantee.rules.terms import HOUSE_TERMS, DatedTerms, Terms, Work, terms_on
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
    dated: Sequence[DatedTerms] = (),
    rated: bool = False,
) -> Decision:
    """The decision for a piece on a day, from the facts dated up to it.

    `dated`: the house's terms over time; those of the day of sale and of the day of work hold. `rated`: the model has a
    pressure rating, so that a missed yearly check may end the extension.
    """
    known = [entry for entry in history if entry.done_on <= as_of]
    sold = sold_on if sold_on and sold_on <= as_of else None
    enrolled = extension_enrolled_on if extension_enrolled_on and extension_enrolled_on <= as_of else None
    terms = terms_on(sold, dated) if sold else HOUSE_TERMS
    base = _sale_cover(sold, terms, is_working_day) if sold else None
    extension = _extension(sold, base, enrolled, terms, is_working_day) if sold and base else None
    missed = None
    if extension and sold and rated and terms.check_months:
        missed = _check_missed_on(sold, extension, known, terms.check_months, as_of)
        extension = _until(extension, missed, is_working_day) if missed else extension
    work = _work(known, dated, is_working_day)

    covers = tuple(one for one in (base, work, extension) if one)
    running = next((one.by for by in ORDER for one in covers if one.by is by and one.runs_on(as_of)), CoveredBy.NONE)
    return Decision(
        as_of=as_of,
        covered_by=running,
        reason=RUNS.get(running) or (Reason.CHECK_MISSED if missed else _why_not(base, extension, sold, enrolled)),
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


def _check_missed_on(sold: date, extension: Cover, done: list[Work], months: int, as_of: date) -> date | None:
    """The last day on which the extension was kept by a check in time, where a later day has passed without one.

    Before the extension a missed check ends nothing. Sale counts as a check: the piece left us tight.
    """
    last = sold
    for passed in sorted(entry.done_on for entry in done if entry.passed_check and entry.done_on > sold):
        kept_to = max(add_months(last, months), extension.from_on)
        if passed > kept_to:
            return kept_to
        last = passed
    kept_to = max(add_months(last, months), extension.from_on)
    return kept_to if as_of > kept_to and kept_to < extension.to_on else None


def _until(extension: Cover, last: date, is_working_day: IsWorkingDay) -> Cover:
    return _cover(CoveredBy.EXTENSION, extension.from_on, last, is_working_day)


def _work(done: list[Work], dated: Sequence[DatedTerms], is_working_day: IsWorkingDay) -> Cover | None:
    """The guarantee of own work that ends last, under the terms of its day."""
    covers = [
        _cover(
            CoveredBy.WORK,
            entry.done_on,
            add_months(entry.done_on, terms_on(entry.done_on, dated).work_months),
            is_working_day,
        )
        for entry in done
        if entry.carries_guarantee
    ]
    return max(covers, key=lambda one: (one.to_on, one.from_on), default=None)


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
