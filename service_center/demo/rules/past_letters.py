"""Which letters a house would have written to one owner before a day, by the very rules of the letters app."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service_center.letters.rules.deciding import OwnerSide, OwnersMail, decide
from service_center.letters.rules.steps import HOUSE_DAYS, DueService, Planned, Reminded, next_step

ENOUGH = 60  # letters to one owner; nobody's interval is that short, and a rule gone wrong must not hang the demo


@dataclass(frozen=True, slots=True)
class PastLetter:
    """One letter that went out on a day, and what it reminded of."""

    day: date
    reminders: tuple[Planned, ...]


def past_letters(
    services: Sequence[DueService], before: date, is_working_day: Callable[[date], bool]
) -> list[PastLetter]:
    """The letters of one owner's services up to the day before `before`, nobody ever answering."""
    reminded: list[Reminded] = []
    letters: list[PastLetter] = []
    day = date.min
    while len(letters) < ENOUGH:
        earliest = letters[-1].day + timedelta(days=HOUSE_DAYS.between_letters) if letters else day
        ahead = sorted(
            max(planned.goes_out_on, earliest)
            for service in services
            if (planned := next_step(service, _of(service, reminded), None))
        )
        coming = next((candidate for candidate in ahead if candidate > day), None)
        if coming is None or coming >= before:
            return letters
        day = coming
        while not is_working_day(day):
            day += timedelta(days=1)
        if day >= before:
            return letters
        mail = OwnersMail(days=tuple(letter.day for letter in letters))
        decided = decide(OwnerSide(services, reminded, {}, mail), day, is_working_day).reminders
        if decided:
            letters.append(PastLetter(day, decided))
            reminded += [
                Reminded(one.service.piece, one.service.kind, one.starts_on, one.step, day, day, one.year)
                for one in decided
            ]
    return letters


def _of(service: DueService, reminded: Sequence[Reminded]) -> list[Reminded]:
    return [one for one in reminded if (one.piece, one.kind) == (service.piece, service.kind)]
