"""What comes back of letters: returned mail, what the provider says, and what both report."""

from django.db import models
from django.db.models import Q

from service_center.letters.models.letters import Letter
from service_center.letters.rules.bounces import Happened
from service_center.letters.rules.codes import Fault
from service_center.letters.rules.words import FoundInMail, ReportSource


class ReturnedMail(models.Model):
    """One message that came back to a return path, and what it was read as. Facts; `key` makes each count once.

    `raw` is its beginning, as it came. `found`: report (of delivery, or a complaint), no_letter (a report about
    no letter of ours, or a forged one), auto_reply, no_report, unreadable, stop (the owner's mail program asks for no
    more letters).
    """

    key = models.CharField(max_length=64, unique=True)
    came_at = models.DateTimeField()
    found = models.CharField(max_length=10, choices=[(f.value, f.value) for f in FoundInMail])
    raw = models.BinaryField()


class ProviderCall(models.Model):
    """What the mail provider told us, signed, as it came. Read by the sweep; `trouble` says why one could not be."""

    provider = models.CharField(max_length=32)
    key = models.CharField(max_length=64, unique=True)
    came_at = models.DateTimeField()
    content_type = models.CharField(max_length=200)
    body = models.BinaryField()
    read_at = models.DateTimeField(null=True)
    trouble = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [models.Index(fields=["id"], condition=Q(read_at=None), name="calls_not_read")]


class DeliveryReport(models.Model):
    """What somebody said about one letter on its way: its mail server, the owner's, or the provider. Facts.

    `status` and `words`: the code of RFC 3463 and the server's own words; `fault`: whose fault it was, by that code.
    """

    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="reports")
    email = models.CharField(max_length=254)
    source = models.CharField(max_length=9, choices=[(s.value, s.value) for s in ReportSource])
    happened = models.CharField(max_length=12, choices=[(h.value, h.value) for h in Happened])
    happened_at = models.DateTimeField()
    status = models.CharField(max_length=11, blank=True)
    words = models.CharField(max_length=1000, blank=True)
    fault = models.CharField(max_length=8, choices=[(f.value, f.value) for f in Fault])
    mail = models.ForeignKey(ReturnedMail, on_delete=models.PROTECT, null=True, related_name="reports")
    call = models.ForeignKey(ProviderCall, on_delete=models.PROTECT, null=True, related_name="reports")
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["source", "letter", "happened", "happened_at"], name="reported_once")
        ]
        indexes = [
            models.Index(fields=["email", "happened_at"], name="reports_by_address"),
            models.Index(fields=["fault", "happened_at", "id"], name="reports_by_fault"),
        ]


class ReportBox(models.Model):
    """Where returned mail is read from: how far, when somebody last looked, and what kept them from it, if anything."""

    name = models.CharField(max_length=254, unique=True)
    validity = models.BigIntegerField(default=0)
    read_up_to = models.BigIntegerField(default=0)
    looked_at = models.DateTimeField(null=True)
    trouble = models.TextField(blank=True)
