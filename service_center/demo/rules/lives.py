"""What happens to one piece after it was sold: checks, mishaps, overhauls, as owners of different care let them."""

import random
from dataclasses import dataclass, replace
from datetime import date, timedelta

from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.demo.rules.house import Model

YEAR = 365.25
NEVER = date(2199, 12, 31)

WORDS: dict[EntryKind, tuple[str, ...]] = {
    EntryKind.OVERHAUL: (
        "Movement and case overhauled, all seals renewed.",
        "Overhaul; mainspring and crown tube renewed.",
        "Overhaul; barrel arbor worn, renewed. Case refinished lightly, edges kept.",
        "",
    ),
    EntryKind.TIGHTNESS_CHECK: ("", "Case back seal renewed as a matter of course.", "Crown seal renewed.", ""),
    EntryKind.REPAIR: (
        "Crown pulled off; stem and crown renewed.",
        "Crystal chipped at 4, renewed.",
        "Stopped after a fall: balance staff renewed.",
        "Date did not change; date jumper renewed.",
    ),
    EntryKind.STRAP: ("Strap renewed.", "Bracelet shortened by two links.", "Buckle renewed.", ""),
}
LEAKED = ("Moisture under the crystal after the heat test.", "Pressure fell at the crown.", "Case back seal brittle.")
SEALED = ("All seals renewed after the failed test.", "Crown and tube renewed, tested again.")


@dataclass(frozen=True, slots=True)
class Happening:
    """One line of a piece's history."""

    done_on: date
    kind: EntryKind
    case_opened: bool
    tightness: Tightness
    done_by: DoneBy = DoneBy.OWN
    accepted: bool | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Care:
    """How an owner looks after a piece: the chance that they come, and how many days around the due day."""

    checks: float
    overhauls: float
    early: int
    late: int


CAREFUL = Care(checks=0.86, overhauls=0.94, early=25, late=50)
EASY = Care(checks=0.42, overhauls=0.78, early=5, late=260)
ABSENT = Care(checks=0.06, overhauls=0.3, early=0, late=420)
CARES, CARE_WEIGHTS = (CAREFUL, EASY, ABSENT), (55, 33, 12)


class _Life:
    """A piece's days from its sale to `until`, told one after another."""

    def __init__(self, dice: random.Random, model: Model, sold_on: date, *, in_water: bool, until: date) -> None:
        self.dice, self.until, self.rated = dice, until, bool(model.rated_bar)
        self.care = dice.choices(CARES, CARE_WEIGHTS)[0]
        self.check_every = 182 if in_water else 365
        self.overhaul_every = 2190 if model.calibre == "FH-30" else 2555
        self.told: list[Happening] = []
        self.next_check = self._next(sold_on, self.check_every, self.care.checks) if self.rated else NEVER
        self.next_overhaul = self._next(sold_on, self.overhaul_every, self.care.overhauls)
        self.next_mishap = self._mishap_after(sold_on)

    def tell(self) -> list[Happening]:
        while (day := min(self.next_check, self.next_overhaul, self.next_mishap)) <= self.until:
            if day == self.next_overhaul:
                self._overhaul(day)
            elif day == self.next_check:
                self._check(day)
            else:
                self._mishap(day)
        return self.told

    def _overhaul(self, day: date) -> None:
        done = self._one(day, EntryKind.OVERHAUL, opened=True, tightness=self._passed())
        if self.dice.random() < 0.12:
            # Elsewhere: half of them with a paper that the desk could accept, some without a test at all.
            tested = self.rated and self.dice.random() < 0.6
            done = replace(
                done,
                done_by=DoneBy.OUTSIDE,
                accepted=self.dice.random() < 0.5,
                tightness=Tightness.PASSED if tested else Tightness.NOT_TESTED,
                note="Done elsewhere, by the owner's word.",
            )
            if done.accepted:
                done = replace(done, note="Done elsewhere; invoice seen.")
        self.told.append(done)
        self.next_overhaul = self._next(day, self.overhaul_every, self.care.overhauls)
        if self.rated:
            self.next_check = self._next(day, self.check_every, self.care.checks)

    def _check(self, day: date) -> None:
        if self.dice.random() < 0.94:
            self.told.append(self._one(day, EntryKind.TIGHTNESS_CHECK, opened=False, tightness=Tightness.PASSED))
        else:
            failed = self._one(day, EntryKind.TIGHTNESS_CHECK, opened=False, tightness=Tightness.FAILED)
            self.told.append(replace(failed, note=self.dice.choice(LEAKED)))
            mended = _working_day(day + timedelta(days=self.dice.randint(6, 30)))
            if mended <= self.until:
                repair = self._one(mended, EntryKind.REPAIR, opened=True, tightness=Tightness.PASSED)
                self.told.append(replace(repair, note=self.dice.choice(SEALED)))
        self.next_check = self._next(self.told[-1].done_on, self.check_every, self.care.checks)

    def _mishap(self, day: date) -> None:
        if self.dice.random() < 0.7:
            self.told.append(self._one(day, EntryKind.STRAP, opened=False, tightness=Tightness.NOT_TESTED))
        else:
            repair = self._one(day, EntryKind.REPAIR, opened=True, tightness=self._passed())
            if self.dice.random() < 0.1:
                repair = replace(
                    repair, done_by=DoneBy.OUTSIDE, accepted=False, tightness=Tightness.NOT_TESTED,
                    note="Opened elsewhere; nobody tested it.",
                )  # fmt: skip
            self.told.append(repair)
        self.next_mishap = self._mishap_after(day)

    def _one(self, day: date, kind: EntryKind, *, opened: bool, tightness: Tightness) -> Happening:
        return Happening(day, kind, opened, tightness, note=self.dice.choice(WORDS[kind]))

    def _passed(self) -> Tightness:
        return Tightness.PASSED if self.rated else Tightness.NOT_TESTED

    def _next(self, start: date, every: int, chance: float) -> date:
        """The day they come: around the first due day on which they care to; after four they do not care, never."""
        for turn in range(1, 5):
            if self.dice.random() < chance:
                away = self.dice.randint(-self.care.early, self.care.late)
                return _working_day(start + timedelta(days=every + (turn - 1) * 365 + away))
        return NEVER

    def _mishap_after(self, day: date) -> date:
        return _working_day(day + timedelta(days=1 + int(self.dice.expovariate(0.17) * YEAR)))


def life_of(dice: random.Random, model: Model, sold_on: date, *, in_water: bool, until: date) -> list[Happening]:
    """The history of one piece up to and including `until`, in the order of its days."""
    return _Life(dice, model, sold_on, in_water=in_water, until=until).tell()


def _working_day(day: date) -> date:
    return day + timedelta(days=max(0, 7 - day.weekday())) if day.weekday() > 4 else day
