"""What owners asked of the guarantee, what the house promises, and what staff decided. Tables only.

The day of an enrolment itself is a fact of the book (`extension_enrolled_on`).
"""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from service_center.book.models import Owner, Piece
from service_center.guarantee.rules import CoveredBy, Finding

FINDINGS = [(one.value, one.value) for one in Finding]


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


class HouseTerms(models.Model):
    """The house's months from a day on. Facts only: a promise binds as it stood on the day of sale or of work.

    Of several rows of one day the last holds.
    """

    from_on = models.DateField()
    base_months = models.PositiveSmallIntegerField()
    extended_months = models.PositiveSmallIntegerField()
    work_months = models.PositiveSmallIntegerField()
    check_months = models.PositiveSmallIntegerField(null=True)
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(extended_months__gte=F("base_months")), name="extension_reaches_the_base"
            )
        ]


class FindingCover(models.Model):
    """One row of the house's table: which guarantees cover a finding, and why or why not in its own words."""

    finding = models.CharField(max_length=32, unique=True, choices=FINDINGS)
    base = models.BooleanField()
    extension = models.BooleanField()
    work = models.BooleanField()
    reason = models.TextField(blank=True)


class CoverDecision(models.Model):
    """What was decided of one finding at one piece. Facts only: whoever thinks better of it decides anew.

    `order` is the number of the drop-off or work order, where there is one. `by_table` is what the house's table said,
    `covered` what holds; where they differ, `reason` says why. `record` has the dates the decision stood on.
    """

    form_key = models.UUIDField(unique=True)
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="cover_decisions")
    order = models.CharField(max_length=32, blank=True)
    finding = models.CharField(max_length=32, choices=FINDINGS)
    reported_on = models.DateField()
    by_table = models.BooleanField()
    covered = models.BooleanField()
    covered_by = models.CharField(max_length=16, choices=[(one.value, one.value) for one in CoveredBy])
    reason = models.TextField(blank=True)
    record = models.JSONField()
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        indexes = [models.Index(fields=["piece", "-id"], name="cover_decisions_of_piece")]
        constraints = [
            models.CheckConstraint(
                condition=Q(covered=F("by_table")) | ~Q(reason=""), name="otherwise_than_the_table_has_a_reason"
            )
        ]
