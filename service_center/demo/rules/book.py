"""The whole demo book, as rows of the CSV files of outside.md: the same for one seed and one day."""

import random
from collections.abc import Iterator
from datetime import date, timedelta

from service_center.demo.rules.house import BOUTIQUES, CALIBRES, MODELS, RULES, SKILLS, Model
from service_center.demo.rules.lives import Happening, life_of
from service_center.demo.rules.names import VISITORS, somebody

SEED = "Fernhollow"
PIECES = 3_600
REGISTER_YEARS = 10  # what happened before was not written down
SALES_YEARS = 12.5
# A chronograph's launch: so many of all pieces were sold within eight weeks, and come due together in the coming season.
LAUNCHED = "WG-3001"
LAUNCH_SHARE = 0.04
LAUNCH_DUE_IN, LAUNCH_LASTED, LAUNCH_INTERVAL_YEARS = timedelta(days=126), 56, 6
SHARES = {"HAR": 45, "EST": 33, "KAZ": 22}

Row = dict[str, str]
Book = dict[str, list[Row]]


def fernhollow(today: date, *, pieces: int = PIECES, seed: str = SEED) -> Book:
    """Rows by file name, in the order of outside.md. `today` is the day on which the history ends."""
    return _Maker(today, pieces, random.Random(seed)).book()


class _Maker:
    def __init__(self, today: date, pieces: int, dice: random.Random) -> None:
        self.today, self.count, self.dice = today, pieces, dice
        self.owners: list[Row] = []
        self.owners_of: dict[str, list[Row]] = {code: [] for code in SHARES}
        self.pieces: list[Row] = []
        self.history: list[Row] = []

    def book(self) -> Book:
        dice = self.dice
        for number, sold_on in enumerate(self._sales(), start=1):
            self._sell(number, sold_on, dice.choices(MODELS, [one.share for one in MODELS])[0])
        self._launch()
        self.history.sort(key=lambda row: (row["done_on"], row["serial"]))
        for number, row in enumerate(self.history, start=1):
            row["entry"] = f"E{number:06d}"
        return {
            "calibres.csv": list(CALIBRES),
            "models.csv": [model.row() for model in MODELS],
            "boutiques.csv": list(BOUTIQUES),
            "owners.csv": self.owners,
            "pieces.csv": self.pieces,
            "history.csv": self.history,
            "rules.csv": list(RULES),
            "skills.csv": list(SKILLS),
        }

    def _sales(self) -> Iterator[date]:
        """Days of sale, earliest first; the house sold more from year to year, and nothing on a Sunday."""
        span = SALES_YEARS * 365.25
        for share in sorted(self.dice.random() ** 0.75 for _ in range(self.count)):
            day = self.today - timedelta(days=int((1 - share) * span) + 1)
            yield day - timedelta(days=1) if day.weekday() == 6 else day

    def _launch(self) -> None:
        """The pieces of the launch, told after all others and by dice of their own."""
        self.dice = random.Random(f"{SEED} launch")
        model = next(one for one in MODELS if one.reference == LAUNCHED)
        year = self.today.year - LAUNCH_INTERVAL_YEARS
        first = date(year, self.today.month, min(self.today.day, 28)) + LAUNCH_DUE_IN
        for number in range(self.count + 1, self.count + round(self.count * LAUNCH_SHARE) + 1):
            day = first + timedelta(days=self.dice.randrange(LAUNCH_LASTED))
            self._sell(number, day - timedelta(days=1) if day.weekday() == 6 else day, model)

    def _sell(self, number: int, sold_on: date, model: Model) -> None:
        dice = self.dice
        boutique = dice.choices(list(SHARES), list(SHARES.values()))[0]
        serial = f"{model.calibre.replace('-', '')}-{number:06d}"
        in_water = dice.random() < (0.45 if model.divers else 0.04)
        bought_used = dice.random() < 0.03  # the register does not know from whom, nor when
        self.pieces.append(
            {
                "serial": serial,
                "reference": model.reference,
                "owner": "" if dice.random() < 0.03 else self._owner(boutique)["owner"],
                "boutique": boutique,
                "made_on": self._made(sold_on),
                "sold_on": "" if bought_used else sold_on.isoformat(),
                "use": "in_water" if in_water else dice.choices(("everyday", ""), (9, 1))[0],
                "extension_enrolled_on": self._enrolled(sold_on),
                "status": dice.choices(("in_use", "lost", "stolen", "retired"), (965, 9, 8, 10))[0],
            }
        )
        self._tell(serial, model, sold_on, in_water=in_water)

    def _tell(self, serial: str, model: Model, sold_on: date, *, in_water: bool) -> None:
        register = self.today - timedelta(days=int(REGISTER_YEARS * 365.25))
        for happening in life_of(self.dice, model, sold_on, in_water=in_water, until=self.today - timedelta(days=1)):
            if happening.done_on >= register:
                self.history.append(_line(serial, happening))

    def _owner(self, boutique: str) -> Row:
        """Mostly somebody new; now and then somebody who bought here before."""
        known = self.owners_of[boutique]
        if known and self.dice.random() < 0.17:
            return self.dice.choice(known)
        people, weights = zip(*VISITORS[boutique], strict=True)
        owner = somebody(self.dice, self.dice.choices(people, weights)[0], len(self.owners) + 1)
        owner["letters"] = self.dice.choices(("yes", "no", ""), (88, 7, 5))[0]
        if self.dice.random() < 0.04:
            owner["email"] = ""
        self.owners.append(owner)
        known.append(owner)
        return owner

    def _made(self, sold_on: date) -> str:
        if self.dice.random() < 0.02:
            return ""
        # A few lay in stock for years: oil ages there too.
        months = self.dice.uniform(38, 64) if self.dice.random() < 0.02 else self.dice.uniform(1, 14)
        return (sold_on - timedelta(days=int(months * 30.44))).isoformat()

    def _enrolled(self, sold_on: date) -> str:
        if self.dice.random() < 0.65:
            return ""
        day = sold_on + timedelta(days=self.dice.randint(0, 75))
        return day.isoformat() if day <= self.today else ""


def _line(serial: str, happening: Happening) -> Row:
    accepted = happening.accepted
    return {
        "entry": "",
        "serial": serial,
        "done_on": happening.done_on.isoformat(),
        "kind": happening.kind.value,
        "case_opened": "yes" if happening.case_opened else "no",
        "tightness": happening.tightness.value,
        "done_by": happening.done_by.value,
        "accepted": "" if accepted is None else "yes" if accepted else "no",
        "note": happening.note,
    }
