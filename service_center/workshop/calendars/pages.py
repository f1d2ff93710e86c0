"""What the pages of the benches show: the coming weeks with their picture, and one watchmaker's week and skills."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from service_center.workshop.calendars import queries, rules
from service_center.workshop.calendars.models import Absence, SkillShare, Watchmaker
from service_center.workshop.calendars.picture import Line, Picture, hours_of, kind_of, picture_of
from service_center.workshop.calendars.rules import AbsenceKind, Bench, StandingStill
from service_center.workshop.calendars.wording import ABSENCES, SHORT_WEEKDAYS, SKILLS

WEEKS = 13


@dataclass(frozen=True, slots=True)
class Person:
    """A line of the table: who, their skills, hours by week, and whether each week is as usual."""

    pk: int
    name: str
    skills: str
    hours: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class WeeksPage:
    """The coming weeks of the workshop. `finding`: what the desk should see first; `by_skill`: hours by week."""

    weeks: tuple[tuple[str, date], ...]
    people: tuple[Person, ...]
    by_skill: tuple[tuple[str, tuple[str, ...]], ...]
    together: tuple[str, ...]
    picture: Picture
    finding: str


@dataclass(frozen=True, slots=True)
class Away:
    """An absence, with the word for it."""

    pk: int
    first: date
    last: date
    word: str


@dataclass(frozen=True, slots=True)
class BenchPage:
    """One watchmaker. `week`: minutes in force, `asked`: skills with the shares as they were written."""

    picture: Picture | None
    hours: tuple[tuple[str, date, str], ...]
    week: tuple[int, ...]
    weeks: tuple[tuple[date, str], ...]
    asked: dict[str, int | None]
    skills: tuple[tuple[date, str], ...]
    absences: tuple[Away, ...]


def weeks_page(today: date) -> WeeksPage:
    """The coming weeks, from the one that holds the day. Eight statements at most."""
    monday, last = _horizon(today)
    people, still = queries.benches(monday, last), queries.standing_still(monday, last)
    lines = [_line(one, still, monday) for one in people]
    together = [sum(some) for some in zip(*(line.minutes for line in lines), strict=True)]
    by_skill = rules.hours_by_week_and_skill(people, still, monday, WEEKS)
    return WeeksPage(
        weeks=_weeks(monday),
        people=tuple(
            Person(
                one.id,
                one.name,
                _skills(rules.shares_on(one, max(today, one.first_day))),
                tuple(
                    (hours_of(minutes), kind_of(minutes, usual))
                    for minutes, usual in zip(line.minutes, line.usual, strict=True)
                ),
            )
            for one, line in zip(people, lines, strict=True)
        ),
        by_skill=tuple(
            (str(word), tuple(f"{hours:.0f}" for hours in by_skill[skill.value]))
            for skill, word in SKILLS.items()
            if skill.value in by_skill
        ),
        together=tuple(hours_of(minutes) for minutes in together),
        picture=picture_of(lines, monday),
        finding=_finding(together, lines, monday),
    )


def bench_page(watchmaker: Watchmaker, today: date) -> BenchPage:
    """One watchmaker's weeks, week, skills and absences to come. Ten statements at most."""
    monday, last = _horizon(today)
    bench = next((one for one in queries.benches(monday, last) if one.id == watchmaker.pk), None)
    line = _line(bench, queries.standing_still(monday, last), monday) if bench else None
    weeks = bench.weeks if bench else ()
    week_now = next((one.minutes for one in reversed(weeks) if one.since <= today), weeks[0].minutes if weeks else None)
    away = Absence.objects.filter(watchmaker=watchmaker, last_day__gte=monday).order_by("first_day")
    written = _written(watchmaker)
    in_force = [since for since in written if since <= max(today, watchmaker.first_day)]
    return BenchPage(
        picture=picture_of([line], monday) if line else None,
        hours=tuple(
            (name, day, hours_of(minutes))
            for (name, day), minutes in zip(_weeks(monday), line.minutes if line else [], strict=False)
        ),
        week=week_now or (0,) * rules.WEEK,
        weeks=tuple((one.since, _week(one.minutes)) for one in reversed(weeks)),
        asked=written[in_force[-1]] if in_force else {},
        skills=tuple((one.since, _skills(one.shares)) for one in reversed(bench.skills if bench else ())),
        absences=tuple(Away(one.pk, one.first_day, one.last_day, str(ABSENCES[AbsenceKind(one.kind)])) for one in away),
    )


def _horizon(today: date) -> tuple[date, date]:
    monday = today - timedelta(days=today.weekday())
    return monday, monday + timedelta(days=WEEKS * rules.WEEK - 1)


def _weeks(monday: date) -> tuple[tuple[str, date], ...]:
    mondays = [monday + timedelta(weeks=week) for week in range(WEEKS)]
    return tuple((f"W{day.isocalendar().week:02d}", day) for day in mondays)


def _line(bench: Bench, still: StandingStill, monday: date) -> Line:
    days = [monday + timedelta(days=number) for number in range(WEEKS * rules.WEEK)]
    usual = [rules.usual_minutes_on(bench, day) if bench.is_here(day) else 0 for day in days]
    return Line(
        bench.name, rules.minutes_by_week(bench, still, monday, WEEKS),
        [sum(usual[week * rules.WEEK : (week + 1) * rules.WEEK]) for week in range(WEEKS)],
    )  # fmt: skip


def _finding(together: Sequence[int], lines: Sequence[Line], monday: date) -> str:
    """The leanest week, against what it usually has."""
    if not lines:
        return ""
    usual = [sum(some) for some in zip(*(line.usual for line in lines), strict=True)]
    week = min(range(WEEKS), key=lambda one: (together[one] - usual[one], one))
    day = monday + timedelta(weeks=week)
    if together[week] >= usual[week]:
        return _("Every bench is held as usual in all of these weeks.")
    return _("The leanest week is W%(week)s, from %(day)s: %(hours)s of %(usual)s hours.") % {
        "week": f"{day.isocalendar().week:02d}", "day": f"{day:%-d %b}",
        "hours": hours_of(together[week]), "usual": hours_of(usual[week]),
    }  # fmt: skip


def _week(minutes: Sequence[int]) -> str:
    """A week in a line: Mon 8, Tue 8, Wed 4."""
    days = [f"{SHORT_WEEKDAYS[day]} {hours_of(number)}" for day, number in enumerate(minutes) if number]
    return ", ".join(days) or _("no day at the bench")


def _skills(shares: object) -> str:
    """Skills in a line, with their shares where there are several."""
    assert isinstance(shares, dict)
    words = [(str(word), shares[skill.value]) for skill, word in SKILLS.items() if skill.value in shares]
    if len(words) <= 1:
        return words[0][0] if words else _("none yet")
    return ", ".join(f"{word} {share:.0%}".replace("%", " %") for word, share in words)


def _written(watchmaker: Watchmaker) -> dict[date, dict[str, int | None]]:
    """The skills as they were written, by the day from which they hold, earliest first. One statement."""
    found: dict[date, dict[str, int | None]] = {}
    rows = SkillShare.objects.filter(watchmaker=watchmaker).order_by("in_force_from", "pk")
    for since, skill, may, share in rows.values_list("in_force_from", "skill", "may", "share"):
        found.setdefault(since, {})
        if may:
            found[since][skill] = share
    return found
