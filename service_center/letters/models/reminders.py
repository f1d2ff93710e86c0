"""What a letter reminds of, the days planned for it, and what comes up."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.models import Piece
from service_center.book.rules import ServiceKind
from service_center.letters.models.letters import Letter
from service_center.letters.rules.words import Step


class Reminder(models.Model):
    """One due date of one piece at one step. The key is what makes a letter go out once.

    `ended_on` is set when a service, an answer or a hold came before it went out; a reminder that went
    out never ends. One that ended without going out may be taken up again by a later letter. `year`: of a yearly
    step, the year in which its day falls, for each year is its own key; 0 for every other step.
    """

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="reminders")
    kind = models.CharField(max_length=16, choices=[(kind.value, kind.value) for kind in ServiceKind])
    starts_on = models.DateField()
    step = models.CharField(max_length=16, choices=[(step.value, step.value) for step in Step])
    year = models.PositiveSmallIntegerField(default=0, db_default=0)
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="reminders")
    due_on = models.DateField()
    ended_on = models.DateField(null=True)
    ended_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["piece", "kind", "starts_on", "step", "year"], name="reminder_once"),
            models.CheckConstraint(
                condition=Q(step=Step.YEARLY.value, year__gt=0) | (~Q(step=Step.YEARLY.value) & Q(year=0)),
                name="only_yearly_has_a_year",
            ),
        ]

    @property
    def service(self) -> ServiceKind:
        """The kind, as the book's word."""
        return ServiceKind(self.kind)


class PlannedInvitation(models.Model):
    """The day that levelling chose for inviting one overhaul (design/workshop.md). A later plan takes its place."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="planned_invitations")
    starts_on = models.DateField()
    invite_on = models.DateField(db_index=True)
    planned_at = models.DateTimeField()
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["piece", "starts_on"], name="one_planned_day_an_interval")]


class CountedAhead(models.Model):
    """How many reminders come up on each day from `first` to `last`, as counted at a moment: of a book that is slow to count.

    A conclusion, kept for the desk's pages: `counts` by ISO day. `seconds`: how long the counting took.
    """

    made_at = models.DateTimeField()
    first = models.DateField()
    last = models.DateField()
    seconds = models.FloatField()
    counts = models.JSONField()
