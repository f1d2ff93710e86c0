"""Drop-offs: what was taken in at a counter, from whom, in what state, on whose account."""

from django.conf import settings
from django.db import models

from service_center.book.models import Boutique, Custody, Owner, Piece
from service_center.intake.drafts.models import Draft, DraftStep
from service_center.intake.photographs.models import Photograph
from service_center.intake.signing.models import Signature
from service_center.intake.terms.models import TermOfHouse
from service_center.intake.visits.models import (
    BoutiqueRegion,
    Closure,
    OpenHoliday,
    OpeningHours,
    Visit,
    VisitDeed,
    VisitPiece,
)
from service_center.measurements.models import TimingSheet

__all__ = [
    "BoutiqueRegion",
    "Closure",
    "Draft",
    "DraftStep",
    "DropOff",
    "OpenHoliday",
    "OpeningHours",
    "Photograph",
    "Signature",
    "TermOfHouse",
    "Visit",
    "VisitDeed",
    "VisitPiece",
]


class DropOff(models.Model):
    """One piece taken in, by the move that put it into our hands. `form_key` comes from the form: the same form sent twice is one drop-off.

    `draft` holds its photographs. `condition` and `estimate` are the records of intake.rules; amounts carry their
    currency (ISO 4217).
    """

    form_key = models.UUIDField(unique=True)
    number = models.CharField(max_length=16, unique=True)
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="drop_offs")
    move = models.OneToOneField(Custody, on_delete=models.PROTECT, related_name="drop_off")
    draft = models.OneToOneField(Draft, on_delete=models.PROTECT, null=True, related_name="drop_off")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, null=True, related_name="drop_offs")
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="drop_offs")
    taken_on = models.DateField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    owner_says = models.TextField(blank=True)
    asked = models.JSONField(default=list)
    left_with = models.CharField(max_length=200, blank=True)
    condition = models.JSONField(default=list, db_default=models.Value([], models.JSONField()))
    declared_value = models.DecimalField(max_digits=14, decimal_places=2, null=True)
    declared_currency = models.CharField(max_length=3, blank=True, default="", db_default="")
    promised_on = models.DateField(null=True)
    estimate = models.JSONField(null=True)
    guarantee = models.JSONField()
    sheet = models.OneToOneField(TimingSheet, on_delete=models.PROTECT, null=True, related_name="drop_off")

    class Meta:
        indexes = [models.Index(fields=["boutique", "-id"], name="drop_offs_at_boutique")]
