"""Which photographs there are; the pictures themselves lie under DATA_DIR, in no folder that is served."""

from django.conf import settings
from django.db import models

from service_center.intake.drafts.models import Draft


class Photograph(models.Model):
    """One photograph, in the order of taking. `key` is random and names its files."""

    draft = models.ForeignKey(Draft, on_delete=models.PROTECT, related_name="photographs")
    key = models.CharField(max_length=32, unique=True)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)

    class Meta:
        indexes = [models.Index(fields=["draft", "id"], name="photographs_of_draft")]
