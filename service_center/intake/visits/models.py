"""When a boutique receives owners, and who comes when."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from service_center.book.models import Boutique, Owner, Piece
from service_center.intake.visits.rules import Deed, VisitState
from service_center.letters.models import Letter


class OpeningHours(models.Model):
    """One stretch of a weekday (Monday is 0), by the boutique's own clock; `places`: how many owners at once."""

    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="opening_hours")
    weekday = models.PositiveSmallIntegerField()
    opens = models.TimeField()
    closes = models.TimeField()
    places = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["boutique", "weekday", "opens"], name="hours_open_once"),
            models.CheckConstraint(condition=Q(closes__gt=F("opens")), name="hours_close_after_they_open"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="hours_on_a_weekday"),
            models.CheckConstraint(condition=Q(places__gte=1), name="hours_have_places"),
        ]


class Closure(models.Model):
    """Days on which a boutique receives nobody, both included."""

    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="closures")
    first_day = models.DateField()
    last_day = models.DateField()
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=F("first_day")), name="closure_ends_after_it_begins")
        ]
        indexes = [models.Index(fields=["boutique", "last_day"], name="closures_of_boutique")]


class BoutiqueRegion(models.Model):
    """In which part of its country (ISO 3166-2, without the country) a boutique lies: its public holidays differ."""

    boutique = models.OneToOneField(Boutique, on_delete=models.PROTECT, related_name="region")
    code = models.CharField(max_length=32)


class OpenHoliday(models.Model):
    """A public holiday on which a boutique keeps its usual hours."""

    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="open_holidays")
    day = models.DateField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["boutique", "day"], name="holiday_opened_once")]


class Visit(models.Model):
    """A booked place at a boutique. One row a seat: what is unique here cannot be given away twice.

    `day` and `at` are what the clock shows at the boutique, in its zone of then (`zone`); `starts_at` is the same in
    UTC. `key` names the visit in calendars, `sequence` counts its changes (RFC 5545, 3.8.7.4).
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="visits")
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="visits")
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="visits")
    day = models.DateField()
    at = models.TimeField()
    zone = models.CharField(max_length=64)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    seat = models.PositiveSmallIntegerField()
    state = models.CharField(
        max_length=16, choices=[(s.value, s.value) for s in VisitState], default=VisitState.BOOKED.value
    )
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["boutique", "starts_at", "seat"],
                condition=~Q(state=VisitState.CANCELLED.value),
                name="one_visit_a_seat",
            )
        ]
        indexes = [
            models.Index(fields=["boutique", "day", "at"], name="visits_of_a_day"),
            models.Index(fields=["owner", "starts_at"], name="visits_of_owner"),
        ]


class VisitPiece(models.Model):
    """A piece that comes on a visit."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="coming")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="visits")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["visit", "piece"], name="a_piece_comes_once")]


class VisitDeed(models.Model):
    """What was done to a visit, and what it was then. Facts only. `form_key`: the owner's form, which counts once."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="deeds")
    deed = models.CharField(max_length=16, choices=[(d.value, d.value) for d in Deed])
    form_key = models.UUIDField(unique=True, null=True)
    done_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    state = models.CharField(max_length=16)
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="+")
    starts_at = models.DateTimeField()
    sequence = models.PositiveIntegerField()
