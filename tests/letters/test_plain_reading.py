"""Years of one owner's letters, day by day: the rules beside the page read plainly, and what must hold over the years."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise

from dateutil.relativedelta import relativedelta
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service_center.book.rules import ServiceKind
from service_center.letters.calendars import working_days
from service_center.letters.rules.deciding import OwnerSide, OwnersMail, decide
from service_center.letters.rules.steps import DueService, Reminded, Said
from service_center.letters.rules.words import AnswerChoice, Step
from tests.letters.plain_reading import Interval, Key, letter_of_the_day, overhaul_invited_on

FIRST, YEARS = date(2024, 1, 1), 5
MONTHS = {
    "overhaul": [(72, 84, 96), (12, 18, 24), (6, 6, 6), (10, 12, 12), (24, 24, 36)],
    "tightness": [(11, 12, 15), (5, 6, 9), (1, 2, 3), (3, 3, 3)],
}
COUNTRIES = ["CH", "DE", "JP", "US", "GB", ""]
CHOICES = [AnswerChoice.BOOKED, AnswerChoice.NOT_NOW, AnswerChoice.DONE_ELSEWHERE, AnswerChoice.NO_LONGER_MINE]


@dataclass
class Kind:
    """One kind of one piece over the years: its starts, its months, and perhaps a day since which it is owed."""

    piece: int
    kind: str
    months: tuple[int, int, int]
    starts: list[date]
    owed: date | None
    planned: date | None
    chosen: date | None

    def on(self, day: date) -> Interval | None:
        start = max((start for start in self.starts if start <= day), default=None)
        if start is None:
            return None
        opens, due, closes = (start + relativedelta(months=months) for months in self.months)
        owed = self.owed if self.owed and start < self.owed <= day else None
        if owed:
            opens = due = closes = owed
        return Interval(self.piece, self.kind, start, opens, due, closes, owed, self.planned, self.chosen)


@dataclass
class World:
    """One owner: pieces, a country, and what they answer to their letters: after how many days, and what."""

    kinds: list[Kind]
    country: str
    answers: list[tuple[int, int, AnswerChoice, int]]
    sent: dict[Key, date] = field(default_factory=dict)
    said: dict[int, tuple[AnswerChoice, date, date | None]] = field(default_factory=dict)
    letter_days: list[date] = field(default_factory=list)

    def intervals(self, day: date) -> list[Interval]:
        return [interval for kind in self.kinds if (interval := kind.on(day))]

    def hear(self, day: date) -> None:
        """What the owner says on a day: each answer comes some days after the letter of its number."""
        for number, after, choice, until in self.answers:
            if number < len(self.letter_days) and self.letter_days[number] + timedelta(days=after) == day:
                pieces = sorted({key[0] for key, gone in self.sent.items() if gone == self.letter_days[number]})
                ahead = day + timedelta(days=until) if choice in (AnswerChoice.BOOKED, AnswerChoice.NOT_NOW) else None
                self.said[pieces[until % len(pieces)]] = (choice, day, ahead)

    def live(self) -> Iterator[tuple[date, list[Interval], set[Key]]]:
        works = working_days(self.country)
        for offset in range(YEARS * 365):
            day = FIRST + timedelta(days=offset)
            self.hear(day)
            intervals = self.intervals(day)
            plainly = letter_of_the_day(
                day,
                intervals,
                self.sent,
                {piece: (choice.value, on, until) for piece, (choice, on, until) in self.said.items()},
                self.letter_days,
                works,
            )
            assert self.by_the_rules(day, intervals) == plainly, day
            if plainly:
                self.letter_days.append(day)
                assert not plainly & self.sent.keys()  # never a step twice
                self.sent |= dict.fromkeys(plainly, day)
            yield day, intervals, plainly

    def by_the_rules(self, day: date, intervals: list[Interval]) -> set[Key]:
        side = OwnerSide(
            [
                DueService(
                    one.piece, f"FH-{one.piece}", ServiceKind(one.kind), one.start, one.opens, one.due, one.closes,
                    one.owed, one.planned if one.kind == "overhaul" else None, one.chosen,
                )
                for one in intervals
            ],
            [
                Reminded(piece, ServiceKind(kind), start, Step(step), gone, gone, year)
                for (piece, kind, start, step, year), gone in self.sent.items()
            ],
            {piece: Said(*said) for piece, said in self.said.items()},
            OwnersMail(tuple(self.letter_days)),
        )  # fmt: skip
        decision = decide(side, day, working_days(self.country))
        return {
            (one.service.piece, one.service.kind.value, one.starts_on, one.step.value, one.year)
            for one in decision.reminders
        }


DAYS = st.integers(-6 * 365, YEARS * 365).map(lambda offset: FIRST + timedelta(days=offset))


@st.composite
def kinds_of(draw: st.DrawFn, piece: int) -> list[Kind]:
    kinds = []
    for kind in ("overhaul", "tightness"):
        starts = draw(st.lists(DAYS, min_size=kind == "overhaul", max_size=3))
        owed = draw(st.none() | DAYS) if kind == "tightness" else None
        planned = draw(st.none() | DAYS) if kind == "overhaul" else None
        chosen = planned and planned - timedelta(days=draw(st.integers(0, 500)))
        kinds.append(Kind(piece, kind, draw(st.sampled_from(MONTHS[kind])), starts, owed, planned, chosen))
    return kinds


ANSWERS = st.lists(
    st.tuples(st.integers(0, 8), st.integers(0, 60), st.sampled_from(CHOICES), st.integers(0, 200)), max_size=5
)


@st.composite
def worlds(draw: st.DrawFn, answers: st.SearchStrategy[list[tuple[int, int, AnswerChoice, int]]] = ANSWERS) -> World:
    pieces = draw(st.integers(1, 3))
    kinds = [kind for piece in range(pieces) for kind in draw(kinds_of(piece))]
    return World(kinds, draw(st.sampled_from(COUNTRIES)), draw(answers))


SLOW = settings(deadline=None, max_examples=12, suppress_health_check=[HealthCheck.too_slow])


@SLOW
@given(worlds())
def test_over_the_years_the_rules_say_what_the_page_says(world: World) -> None:
    works = working_days(world.country)
    for day, intervals, keys in world.live():
        running = {(one.piece, one.kind, one.start): one for one in intervals}
        for piece, kind, start, step, _year in keys:
            assert works(day)
            interval = running[piece, kind, start]  # nothing of an interval that a service has ended
            if (kind, step) == ("overhaul", "invitation"):
                assert interval.opens <= day
            if step == "last":
                assert (day - world.sent[piece, kind, start, "nudge", 0]).days >= 42
    assert all((later - earlier).days >= 28 for earlier, later in pairwise(world.letter_days))


@SLOW
@given(worlds(answers=st.just([])))
def test_every_step_whose_day_has_come_goes_out_soon_unless_something_came_first(world: World) -> None:
    """Who never answers: an overhaul is invited, nudged and written to a last time, each within 28 days and a holiday."""
    waits: dict[Key, int] = {}
    for day, intervals, keys in world.live():
        for one in intervals:
            if one.kind != "overhaul":
                continue
            invited = world.sent.get((one.piece, one.kind, one.start, "invitation", 0))
            nudged = world.sent.get((one.piece, one.kind, one.start, "nudge", 0))
            steps = {"invitation": overhaul_invited_on(one)}
            if invited:
                steps["nudge"] = invited + timedelta(days=42)
            if nudged:
                steps["last"] = max(one.closes, nudged + timedelta(days=42))
            for step, its_day in steps.items():
                key = (one.piece, one.kind, one.start, step, 0)
                if its_day <= day and key not in world.sent and key not in keys:
                    waits[key] = waits.get(key, 0) + 1
                    assert waits[key] <= 28 + 10, (key, day)
