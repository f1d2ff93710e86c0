"""Which overhauls of the coming weeks a part is needed for. Weeks are numbers from 0, the one that it is now."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from math import ceil

from service_center.planning.rules.picture import Picture, SkillWeeks
from service_center.planning.rules.weeks import week_at

# The desk looks a quarter, half a year and a year ahead.
LOOKS_AHEAD = (13, 26, 52)


def overhauls_by_week(one: SkillWeeks) -> list[float]:
    """Pieces of a skill that letters out, and letters to come as they are planned now, are expected to bring."""
    return [out + hours / one.hours for out, hours in zip(one.overhauls_out, one.to_come(one.before), strict=True)]


def overhauls_ahead(picture: Picture, as_of: date) -> dict[str, list[float]]:
    """The same of every skill from the week of `as_of` on: what a picture says of weeks that are over is left out."""
    over = max(0, week_at(as_of, picture.first))
    return {one.skill: overhauls_by_week(one)[over:] for one in picture.skills}


def orders_by_week(overhauls: Mapping[str, Sequence[float]], shares: Mapping[str, float], waiting: int) -> list[float]:
    """Orders that may use a part: its share of each skill's overhauls, and the orders that wait for it here, in week 0.

    A piece is counted in the week in which it comes, before its bench needs the part: the shelf is filled early rather
    than late.
    """
    weeks = max((len(weeks) for weeks in overhauls.values()), default=1) or 1
    found = [0.0] * weeks
    found[0] += waiting
    for skill, pieces in overhauls.items():
        share = shares.get(skill, 0.0)
        for week, number in enumerate(pieces):
            found[week] += share * number
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
