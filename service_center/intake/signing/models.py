"""Signatures, each with the very text it stands under."""

from django.db import models


class Signature(models.Model):
    """What an owner signed. Facts only. `drawn` is the picture (PNG) of a signature on glass, empty for a typed name."""

    drop_off = models.OneToOneField("intake.DropOff", on_delete=models.PROTECT, related_name="signature")
    text = models.TextField()
    text_sha256 = models.CharField(max_length=64)
    language = models.CharField(max_length=8)
    name = models.CharField(max_length=200)
    drawn = models.BinaryField()
    signed_at = models.DateTimeField()
