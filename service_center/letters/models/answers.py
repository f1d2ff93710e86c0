"""What an owner said, and where the desk reached them without mail."""

from django.conf import settings
from django.db import models

from service_center.book.models import Boutique, Owner, Piece
from service_center.letters.models.letters import Letter
from service_center.letters.rules.words import AnswerChoice, Channel


class Answer(models.Model):
    """What the owner said of one piece, or of all letters (piece empty). Facts: a later answer outweighs an earlier."""

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="answers")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, null=True, related_name="answers")
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, null=True, related_name="answers")
    choice = models.CharField(max_length=16, choices=[(c.value, c.value) for c in AnswerChoice])
    day = models.DateField(null=True)
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, null=True, related_name="+")
    said_on = models.DateField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["piece", "said_on"], name="answers_about_piece")]


class ReachedOtherwise(models.Model):
    """That the desk telephoned an owner, or wrote on paper, in place of a letter by mail. Facts."""

    letter = models.OneToOneField(Letter, on_delete=models.PROTECT, related_name="reached")
    channel = models.CharField(max_length=9, choices=[(c.value, c.value) for c in Channel])
    on = models.DateField()
    note = models.TextField(blank=True)
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
