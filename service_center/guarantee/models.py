"""What owners asked of the guarantee. Tables only; the day itself is a fact of the book (`extension_enrolled_on`)."""

from django.conf import settings
from django.db import models

from service_center.book.models import Owner, Piece


class ExtensionEnrolment(models.Model):
    """That an owner registered a piece for the extension: on which day, and under which words. Facts only.

    `base_to` and `extended_to`: the last days that were told then.
    """

    piece = models.OneToOneField(Piece, on_delete=models.PROTECT, related_name="extension_enrolment")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="extension_enrolments")
    enrolled_on = models.DateField()
    base_to = models.DateField()
    extended_to = models.DateField()
    language = models.CharField(max_length=35)
    conditions = models.TextField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
