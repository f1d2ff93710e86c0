"""Watchmakers with their weeks, skills and absences; the days on which the workshop stands still."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from service_center.book.rules import Complexity
from service_center.workshop.calendars.rules import MINUTES_OF_A_DAY, AbsenceKind


class Watchmaker(models.Model):
    """Who has a bench, from a day on and until another, both included. `account`: with which they sign in, if at all."""

    name = models.CharField(max_length=200)
    account = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="watchmaker"
    )
    first_day = models.DateField()
    last_day = models.DateField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="a_bench_ends_after_it_begins",
            ),
            models.CheckConstraint(condition=~Q(name=""), name="a_watchmaker_has_a_name"),
        ]


class WeekdayMinutes(models.Model):
    """Minutes at the bench on one weekday (Monday is 0), from a day on until later ones of the same watchmaker.

    A week is always seven rows, so that a week without work is one too.
    """

    watchmaker = models.ForeignKey(Watchmaker, on_delete=models.PROTECT, related_name="weekday_minutes")
    in_force_from = models.DateField()
    weekday = models.PositiveSmallIntegerField()
    minutes = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["watchmaker", "in_force_from", "weekday"], name="a_weekday_once_a_week"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="minutes_on_a_weekday"),
            models.CheckConstraint(condition=Q(minutes__lte=MINUTES_OF_A_DAY), name="minutes_fit_into_a_day"),
        ]


class SkillShare(models.Model):
    """Whether a watchmaker may do calibres of a skill, and how much of their week it gets, from a day on.

    `share` is in hundredths of the week; empty for all skills means equal shares. Always a row for each skill.
    """

    watchmaker = models.ForeignKey(Watchmaker, on_delete=models.PROTECT, related_name="skill_shares")
    in_force_from = models.DateField()
    skill = models.CharField(max_length=16, choices=[(skill.value, skill.value) for skill in Complexity])
    may = models.BooleanField()
    share = models.PositiveSmallIntegerField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["watchmaker", "in_force_from", "skill"], name="a_skill_once_a_day"),
            models.CheckConstraint(condition=Q(share__isnull=True) | Q(share__lte=100), name="a_share_of_the_week"),
        ]


class Absence(models.Model):
    """Days on which a watchmaker is away, both included. The kind says what planning needs, and nothing of health."""

    watchmaker = models.ForeignKey(Watchmaker, on_delete=models.PROTECT, related_name="absences")
    first_day = models.DateField()
    last_day = models.DateField()
    kind = models.CharField(max_length=16, choices=[(kind.value, kind.value) for kind in AbsenceKind])

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=F("first_day")), name="absence_ends_after_it_begins")
        ]
        indexes = [models.Index(fields=["watchmaker", "last_day"], name="absences_of_watchmaker")]


class WorkshopClosure(models.Model):
    """Days on which the whole workshop is closed, both included."""

    first_day = models.DateField()
    last_day = models.DateField()
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")), name="workshop_closure_ends_after_it_begins"
            )
        ]
        indexes = [models.Index(fields=["last_day"], name="workshop_closures_by_day")]


class WorkshopPlace(models.Model):
    """Where the workshop stands: country (ISO 3166-1 alpha-2), its part as ISO 3166-2 writes it, and time zone. One row.

    Empty where the house has not said it yet.
    """

    only = models.PositiveSmallIntegerField(primary_key=True, default=1)
    country = models.CharField(max_length=2, blank=True)
    subdivision = models.CharField(max_length=8, blank=True)
    time_zone = models.CharField(max_length=64, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(only=1), name="one_place_of_the_workshop")]


class HolidayYear(models.Model):
    """A year whose public holidays were copied, for which country and part of it: they stand, whatever comes later."""

    year = models.PositiveSmallIntegerField(unique=True)
    country = models.CharField(max_length=2)
    subdivision = models.CharField(max_length=8, blank=True)


class PublicHoliday(models.Model):
    """A public holiday where the workshop stands. `worked`: it works all the same; `by_house`: the desk wrote it."""

    day = models.DateField(unique=True)
    name = models.CharField(max_length=200)
    worked = models.BooleanField(default=False)
    by_house = models.BooleanField(default=False)
