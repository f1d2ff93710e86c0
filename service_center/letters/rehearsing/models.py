"""Rounds that were rehearsed."""

from django.db import models
from django.db.models import Q

from service_center.letters.asked_for import AskedFor


class Rehearsal(AskedFor):
    """The round of a day as it would be, from the book as it was then. A conclusion: the latest few are kept.

    `found` (rules.Rehearsed): None until it is worked out, and for ever where that came to nothing. It names pieces
    only, never owners: whoever is erased from the book stands in none of these.
    """

    day = models.DateField()
    found = models.JSONField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["day"], condition=Q(finished_at=None), name="one_rehearsal_of_a_day_under_way"
            ),
        ]  # fmt: skip
        indexes = [models.Index(fields=["day", "-id"], name="rehearsals_by_day")]
