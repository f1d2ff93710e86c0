"""Addresses to which nothing goes, and those that the desk let go again."""

from django.conf import settings
from django.db import models

from service_center.letters.models.letters import Letter
from service_center.letters.rules.codes import Fault


class StoppedAddress(models.Model):
    """An e-mail address that was refused for good, or too often. Lower case; no letter goes there while the row stands.

    `because`: the server's own words. `status`: its code (RFC 3463), where it gave one. `fault`: `address` for one
    refusal for good, `for_now` for several in a row that were not.
    """

    email = models.CharField(max_length=254, unique=True)
    stopped_at = models.DateTimeField()
    because = models.TextField()
    status = models.CharField(max_length=11, blank=True, default="", db_default="")
    fault = models.CharField(
        max_length=8, choices=[(f.value, f.value) for f in Fault], default=Fault.ADDRESS.value, db_default="address"
    )
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, null=True, related_name="+")


class AddressLifted(models.Model):
    """That the desk lets letters go to a stopped address again. Facts; what was reported before no longer counts."""

    email = models.CharField(max_length=254)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()

    class Meta:
        indexes = [models.Index(fields=["email", "at"], name="lifted_by_address")]
