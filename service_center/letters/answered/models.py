"""Answers as they were counted ahead of whoever looks."""

from django.db import models


class AnswersCounted(models.Model):
    """One counting of all answers. A conclusion, made again every hour. `seconds`: how long it took."""

    made_at = models.DateTimeField()
    seconds = models.FloatField()


class AnswersOfDay(models.Model):
    """The reminders that went out of the letters planned on one day, as one counting found them.

    `counts`: of each kind, step and choice (empty: not answered) so many, as lists of these four. Nobody is named.
    """

    counted = models.ForeignKey(AnswersCounted, on_delete=models.CASCADE, db_index=False, related_name="days")
    planned_on = models.DateField()
    counts = models.JSONField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["counted", "planned_on"], name="a_day_is_counted_once")]
