"""A round: one pass over the book for one day."""

from django.conf import settings
from django.db import models

from service_center.letters.rules.words import RoundDecision, Unusual


class Round(models.Model):
    """One pass over the book for one day. `unusual`: why its letters are held, where they are; then the desk decides."""

    day = models.DateField(db_index=True)
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True)
    reminders = models.PositiveIntegerField(default=0)
    letters = models.PositiveIntegerField(default=0)
    unusual = models.CharField(
        max_length=8, choices=[(u.value, u.value) for u in Unusual], blank=True, default="", db_default=""
    )
    # What the round was measured by: the day of the last round, and the most letters that are usual.
    compared_with = models.DateField(null=True)
    usual_letters = models.PositiveIntegerField(null=True)
    decision = models.CharField(
        max_length=10, choices=[(d.value, d.value) for d in RoundDecision], blank=True, default="", db_default=""
    )
    decided_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")


class RoundsHeld(models.Model):
    """Rounds are held since a backup was brought back, until somebody's word, or until one after `last_round` counts.

    `last_round`: the latest that the backup had; none: it had none. What is before a restore and what after it is told
    by these rows, never by times: those in the backup are of a lost machine's clock.
    """

    last_round = models.ForeignKey(Round, on_delete=models.PROTECT, null=True, related_name="+")
    held_at = models.DateTimeField(auto_now_add=True)
    released_at = models.DateTimeField(null=True)
