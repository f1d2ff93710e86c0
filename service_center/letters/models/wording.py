"""The house's own words, and the words that letters went out in."""

from django.conf import settings
from django.db import models


class HouseText(models.Model):
    """One text of letters in the house's own words, from the moment it was saved. Facts: the latest row is in force.

    `text` empty: back to ours. `ours`: our text as it was then, so that a later release can say that it changed.
    `follows`: the row that was in force before, 0 for none; of two people who save at once, one comes second.
    """

    language = models.CharField(max_length=35)
    code = models.CharField(max_length=64)
    text = models.TextField(blank=True)
    ours = models.TextField()
    follows = models.BigIntegerField(default=0)
    saved_at = models.DateTimeField()
    saved_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["language", "code", "follows"], name="one_text_follows_another")]
        indexes = [models.Index(fields=["language", "code", "id"], name="house_texts_in_order")]


class KeptWording(models.Model):
    """Every text of one language as letters were written with it: what was sent is shown as it was sent. Facts."""

    language = models.CharField(max_length=35)
    digest = models.CharField(max_length=64, unique=True)
    texts = models.JSONField()
    kept_at = models.DateTimeField(auto_now_add=True)
