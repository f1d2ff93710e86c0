"""How long before they came Fernhollow's owners had their letter: what the letters of intervals that are over were."""

import random
from dataclasses import dataclass
from datetime import date, timedelta

from service_center.letters.rules.steps import HOUSE_DAYS
from service_center.letters.rules.words import Step
from service_center.planning.rules.arrivals import OVERHAUL_INVITATION, common_shares

# So many in a hundred came without a letter: by chance, or because something broke.
WITHOUT_A_LETTER = 62


@dataclass(frozen=True, slots=True)
class WrittenTo:
    """One letter before a visit."""

    step: Step
    day: date


def letters_before(dice: random.Random, came: date) -> list[WrittenTo]:
    """The letters that went out before an owner came on a day; none for those who came by themselves."""
    if dice.randrange(100) < WITHOUT_A_LETTER:
        return []
    shares = common_shares(OVERHAUL_INVITATION)
    weeks = dice.choices(range(len(shares)), weights=shares.tolist())[0]
    invited = _worked(came - timedelta(days=7 * weeks + dice.randrange(1, 6)))
    letters = [WrittenTo(Step.INVITATION, invited)]
    nudged = _worked(invited + timedelta(days=HOUSE_DAYS.nudge_after + 2))
    if nudged < came:
        letters.append(WrittenTo(Step.NUDGE, nudged))
    return letters


def _worked(day: date) -> date:
    return day - timedelta(days=max(0, day.weekday() - 4))
