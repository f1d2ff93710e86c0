"""design/letters.md read once more, as plainly as it is written, for one owner and one day.

Written from the page and not from the code: it knows tuples and dates, goes through the table of steps row by row, and
shares nothing with `service_center.letters.rules`. Where the page leaves a choice, the words beside it say which was
taken.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from dateutil.relativedelta import relativedelta


@dataclass(frozen=True)
class Interval:
    """One running interval. `owed`: since when it cannot wait. `planned`: levelling's day, chosen on `chosen`."""

    piece: int
    kind: str
    start: date
    opens: date
    due: date
    closes: date
    owed: date | None = None
    planned: date | None = None
    chosen: date | None = None


# piece, kind, start of the interval, step, year
Key = tuple[int, str, date, str, int]


@dataclass(frozen=True)
class Line:
    """One row of the table, come to a day; `earliest`: a bound that the page gives with "never" or "at least"."""

    key: Key
    day: date
    earliest: date = date.min


def letter_of_the_day(
    day: date,
    intervals: Sequence[Interval],
    sent: Mapping[Key, date],
    said: Mapping[int, tuple[str, date, date | None]],
    letter_days: Sequence[date],
    works: Callable[[date], bool],
) -> set[Key]:
    """The keys that travel in the letter of a day; none where no letter goes. `said`: choice, when, until or for when."""
    # Working days only; at most one letter per owner in 28 days.
    if not works(day) or any((day - other).days < 28 for other in letter_days):
        return set()
    lines = [line for one in intervals for line in _lines(one, sent, said.get(one.piece))]
    # No longer mine: there is nobody to write to about this piece.
    lines = [line for line in lines if said.get(line.key[0], ("",))[0] != "no_longer_mine"]
    lines = _without_separate_checks(day, intervals, lines, sent)
    if not any(line.day <= day for line in lines):
        return set()
    return {line.key for line in lines if line.day <= day + timedelta(days=21) and line.earliest <= day}


def overhaul_invited_on(one: Interval) -> date:
    """The planned day, otherwise 60 days before due; never before opens.

    A planned day outside the window of now is none; what had closed when it was chosen has a year from then.
    """
    until = one.closes
    if one.chosen and one.closes <= one.chosen:
        until = one.chosen + timedelta(weeks=52)
    if one.planned and one.opens <= one.planned <= until:
        return one.planned
    return max(one.opens, one.due - timedelta(days=60))


def _lines(one: Interval, sent: Mapping[Key, date], said: tuple[str, date, date | None] | None) -> list[Line]:
    def key(step: str, year: int = 0) -> Key:
        return one.piece, one.kind, one.start, step, year

    def gone(step: str) -> date | None:
        days = [day for (piece, kind, start, name, _year), day in sent.items()
                if (piece, kind, start, name) == (one.piece, one.kind, one.start, step)]  # fmt: skip
        return max(days, default=None)

    invited, nudged, last, yearly = gone("invitation"), gone("nudge"), gone("last"), gone("yearly")
    lines = []
    if invited is None:
        if one.owed:  # a kind that is owed is invited at once
            day = one.owed
        elif one.kind == "tightness":
            day = one.opens
        else:
            day = overhaul_invited_on(one)
        lines.append(Line(key("invitation"), day, one.opens if one.kind == "overhaul" else date.min))
    elif not nudged and not yearly and not (said and said[1] >= invited and said[0] != "not_now"):
        lines.append(Line(key("nudge"), invited + timedelta(days=42)))
    elif one.kind == "overhaul":
        # The last letter follows a nudge; who had it done elsewhere has answered for good.
        elsewhere = said and said[0] == "done_elsewhere" and said[1] >= invited
        if nudged and not last and not elsewhere:
            at_least = nudged + timedelta(days=42)
            lines.append(Line(key("last"), max(one.closes, at_least), at_least))
    else:
        # Each year is its own key. A year that had passed when we last wrote about it was spoken of then.
        spoken = max(day for day in (invited, nudged, yearly) if day)
        years = [one.due + relativedelta(months=12 * n) for n in range(1, 60)]
        used = [year for (piece, kind, start, name, year) in sent
                if (piece, kind, start, name) == (one.piece, one.kind, one.start, "yearly")]  # fmt: skip
        coming = [day for day in years if day > spoken and day.year > max(used, default=0)]
        lines.append(Line(key("yearly", coming[0].year), coming[0]))
    # "Not now" keeps everything about the piece back until its day, whatever else goes out before; a booked visit until
    # the day after it, for on its morning the owner has yet to come.
    if said and said[0] in ("not_now", "booked") and said[2]:
        back = said[2] + timedelta(days=said[0] == "booked")
        lines = [Line(line.key, max(line.day, back), max(line.earliest, back)) for line in lines]
    return lines


def _without_separate_checks(
    day: date, intervals: Sequence[Interval], lines: list[Line], sent: Mapping[Key, date]
) -> list[Line]:
    """A piece whose overhaul is invited, or planned within 90 days, gets no separate tightness reminder.

    "Owed is invited at once" outweighs it: an owed test waits for no overhaul. It goes with an overhaul that may travel
    in the same letter, which then goes today, and alone where there is none.
    """
    kept = list(lines)
    for one in intervals:
        if one.kind != "tightness":
            continue
        mine = [line for line in lines if line.key[:2] == (one.piece, "tightness")]
        overhaul = next((o for o in intervals if (o.piece, o.kind) == (one.piece, "overhaul")), None)
        if overhaul is None or not mine:
            continue
        if (one.piece, "overhaul", overhaul.start, "invitation", 0) in sent:
            kept = [line for line in kept if line not in mine]
            continue
        ahead = next((line for line in lines if line.key[:2] == (one.piece, "overhaul")), None)
        if ahead is None:
            continue
        if one.owed is None:
            if ahead.day <= day + timedelta(days=90):
                kept = [line for line in kept if line not in mine]
        elif ahead.day <= day + timedelta(days=21) and ahead.earliest <= day:
            kept = [line for line in kept if line not in mine and line != ahead]
            kept.append(Line(ahead.key, min(ahead.day, mine[0].day), ahead.earliest))
    return kept
