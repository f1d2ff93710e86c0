"""Which orders of the coming weeks a part is needed for. Weeks are numbers from 0, the one that it is now."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from math import ceil

import numpy as np

from service_center.book.rules import EntryKind
from service_center.planning.rules.picture import Picture, SkillWeeks
from service_center.planning.rules.survival import Numbers
from service_center.planning.rules.weeks import monday_of, week_at

# The desk looks a quarter, half a year and a year ahead.
LOOKS_AHEAD = (13, 26, 52)
# Kinds that no letter asks for come as often as they came in the last year. Common practice.
LOOKS_BACK_WEEKS = 52
LEAST_WEEKS = 13


def overhauls_by_week(one: SkillWeeks) -> list[float]:
    """Pieces of a skill that letters out, and letters to come as they are planned now, are expected to bring."""
    return [out + hours / one.hours for out, hours in zip(one.overhauls_out, one.to_come(one.before), strict=True)]


def weeks_over(since: date, as_of: date) -> int:
    """How many weeks are over since the week of a day."""
    return max(0, week_at(as_of, monday_of(since)))


def overhauls_ahead(picture: Picture, as_of: date) -> dict[str, list[float]]:
    """The same of every skill from the week of `as_of` on: what a picture says of weeks that are over is left out."""
    over = weeks_over(picture.first, as_of)
    return {one.skill: overhauls_by_week(one)[over:] for one in picture.skills}


def orders_by_week(
    overhauls: Mapping[str, Sequence[float]],
    shares: Mapping[str, float],
    ahead: Mapping[EntryKind, Sequence[float]],
    waiting: Mapping[EntryKind, int],
) -> list[list[float]]:
    """Orders that may use a part, by kind (in the order of EntryKind) and week.

    Overhauls: its share of each skill's. The others: as `ahead` says by week. The orders in the house that may use it
    yet are in week 0. A piece is counted in the week in which it comes, before its bench needs the part: the shelf is
    filled early rather than late.
    """
    weeks = max((len(weeks) for weeks in overhauls.values()), default=1) or 1
    found = []
    for kind in EntryKind:
        row = [0.0] * weeks
        row[0] += waiting.get(kind, 0)
        for week, number in enumerate(ahead.get(kind, ())[:weeks]):
            row[week] += number
        if kind is EntryKind.OVERHAUL:
            for skill, pieces in overhauls.items():
                for week, number in enumerate(pieces):
                    row[week] += shares.get(skill, 0.0) * number
        found.append(row)
    return found


def checks_by_week(out: Sequence[float], to_invite: Sequence[int], come: Sequence[float] | Numbers) -> list[float]:
    """Checks of one skill by week: those of letters out, and of letters to come by their week and who comes after it."""
    weeks = len(out)
    invited = np.asarray(to_invite[:weeks], dtype=np.float64)
    if not weeks or not len(invited):
        return list(out)
    coming = np.convolve(invited, np.asarray(come, dtype=np.float64))[:weeks]
    return [one + other for one, other in zip(out, [*coming.tolist(), *[0.0] * (weeks - len(coming))], strict=True)]


def a_week(orders: int, since: date | None, as_of: date) -> float:
    """Orders of a kind that come in a week, from those of the last year; of a younger house, since its first order.

    Counted over a quarter at least: a house of two weeks knows too little.
    """
    if since is None:
        return 0.0
    seen = min(LOOKS_BACK_WEEKS, max(LEAST_WEEKS, (as_of - since).days / 7))
    return orders / seen


def there_by_week(on_hand: int, awaited: Iterable[tuple[int, date]], as_of: date, weeks: int) -> list[int]:
    """What lies on the shelf at the beginning of each week, were nothing used: a delivery counts from the first Monday on or
    after its day, and one that is overdue not at all, since nobody knows when it comes."""
    found = [on_hand] * weeks
    first = monday_of(as_of)
    for quantity, day in awaited:
        if day >= as_of:
            for week in range(ceil((day - first).days / 7), weeks):
                found[week] += quantity
    return found


def shares_of_skills(
    due: Mapping[int | None, int], skills: Mapping[int, str], fitting: Iterable[int]
) -> dict[str, float]:
    """The share of each skill's overhauls that a part fits: due overhauls by model, each model's skill, models it fits."""
    fits, all_of, share_of = set(fitting), dict[str, int](), dict[str, int]()
    for model, pieces in due.items():
        skill = skills.get(model, "") if model is not None else ""
        if skill:
            all_of[skill] = all_of.get(skill, 0) + pieces
            share_of[skill] = share_of.get(skill, 0) + (pieces if model in fits else 0)
    return {skill: share_of[skill] / pieces for skill, pieces in all_of.items() if pieces}


def weeks_to_cover(cover: int, delivery_days: int, weeks: int) -> int:
    """An order lasts so many weeks from its delivery, within the weeks that are planned."""
    return min(weeks, cover + ceil(delivery_days / 7))
