"""Staff and the trail of what they did."""

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models import Q

from service_center.access.rules import Role


class Staff(AbstractUser):
    """A member of staff, with one role. The boutique is kept by its key: boutiques are facts of the book, above."""

    role = models.CharField(max_length=16, choices=[(role.value, role.value) for role in Role])
    boutique = models.CharField(max_length=64, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(role=Role.BOUTIQUE.value) | ~Q(boutique=""), name="boutique_staff_have_a_boutique"
            )
        ]


class ErasureDoor(models.Model):
    """A row stands here only inside the transaction that erases somebody (erasing.py); nobody else ever sees one."""

    opened_at = models.DateTimeField(auto_now_add=True)


class Trail(models.Model):
    """Who did what, when, and why. Rows are only ever added; triggers refuse anything else.

    `before`, `after` and `reason` can be emptied through the door of erasing.py, where the law asks for it.
    """

    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    boutique = models.CharField(max_length=64, blank=True)
    deed = models.CharField(max_length=64)
    subject = models.CharField(max_length=128)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    reason = models.TextField(blank=True)

    class Meta:
        indexes = [models.Index(fields=["subject", "at"], name="trail_by_subject")]
