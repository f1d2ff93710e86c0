"""Drop-offs that were started: what was typed at each step, and who is at it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.models import Boutique, Piece


class Draft(models.Model):
    """One started drop-off of a piece at a boutique. `key` becomes the drop-off's: finished twice is finished once.

    `at_it` is who may write to it now; somebody else takes it over first.
    """

    key = models.UUIDField(unique=True)
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="drafts")
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="drafts")
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at_it = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at_it_since = models.DateTimeField()
    kept_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    given_up = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["piece", "boutique"], condition=Q(ended_at__isnull=True), name="one_draft_of_a_piece"
            )
        ]
        indexes = [
            models.Index(fields=["boutique", "-kept_at"], condition=Q(ended_at__isnull=True), name="open_drafts")
        ]


class DraftStep(models.Model):
    """What was typed at one step, as it was typed: the last write of a step counts, and steps do not touch another."""

    draft = models.ForeignKey(Draft, on_delete=models.CASCADE, related_name="steps")
    step = models.CharField(max_length=16)
    said = models.JSONField()
    kept_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["draft", "step"], name="one_row_a_step")]
