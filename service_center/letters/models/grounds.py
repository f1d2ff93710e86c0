"""On which ground letters may go to an owner."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.models import Owner
from service_center.letters.rules.words import Ground


class LetterGround(models.Model):
    """On which ground letters about paid service may go to an owner, since when, and in which words. Facts.

    A later one is added beside an earlier; the latest counts, and `withdrawn` ends those before it. Whether the owner
    wants letters now is the book's (`Owner.letters`).
    """

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="letter_grounds")
    ground = models.CharField(max_length=17, choices=[(g.value, g.value) for g in Ground])
    on = models.DateField()
    wording = models.TextField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        indexes = [
            models.Index(fields=["owner"], condition=Q(ground=Ground.WITHDRAWN.value), name="grounds_withdrawn"),
        ]
