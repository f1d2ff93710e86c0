"""Weeks at invented benches."""

import random
from datetime import date, timedelta

from service_center.planning.rules.week_plan.week import Bench, Order, Task, Week

MONDAY = date(2026, 11, 30)
DAYS = tuple(MONDAY + timedelta(days=n) for n in range(5))
SKILLS = ("simple", "automatic", "chronograph", "complicated")
# An overhaul's work in stretches (minutes by complexity, days that pass after it, whether one watchmaker keeps it).
STRETCHES = (
    ((15, 15, 20, 40), 0, False),
    ((125, 180, 340, 385), 1, True),
    ((75, 100, 140, 215), 0, True),
    ((10, 15, 15, 20), 1, False),
    ((15, 20, 25, 35), 3, False),
)


def realistic(*, watchmakers: int = 12, orders: int = 200, seed: int = 7) -> Week:
    """A busy house: some may do everything, most the common calibres; orders begun and not, some overdue."""
    dice = random.Random(seed)
    benches = []
    for number in range(watchmakers):
        able = SKILLS[: (4 if number < 2 else 3 if number < 6 else 2)]
        minutes = dict.fromkeys(DAYS, 420)
        if number % 4 == 3:
            minutes[DAYS[4]] = 0
        if number == 5:
            minutes[DAYS[1]] = 0
        benches.append(Bench(number + 1, frozenset(able), minutes))
    found, key = [], 0
    for number in range(orders):
        at = dice.choices(range(4), (30, 50, 15, 5))[0]
        begun = dice.choices(range(5), (50, 20, 12, 8, 10))[0]
        tasks = []
        for minutes_by, wait, keeps in STRETCHES[begun:]:
            tasks.append(Task(key, minutes_by[at], wait, keeps))
            key += 1
        able = [bench.watchmaker for bench in benches if SKILLS[at] in bench.skills]
        found.append(
            Order(
                number, SKILLS[at], MONDAY + timedelta(days=max(0, dice.randint(-20, 4))),
                None if dice.random() < 0.1 else MONDAY + timedelta(days=dice.randint(-5, 40)),
                tuple(tasks), dice.choice(able) if begun == 2 else None,
            )
        )  # fmt: skip
    return Week(DAYS, tuple(benches), tuple(found))
