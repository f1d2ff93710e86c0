"""The book: what was made, who wears it, what was done to it and who holds it now. Tables only."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from service_center.book import lookups  # noqa: F401  # registers the prefix search
from service_center.book.rules import Complexity, DoneBy, EntryKind, Place, Status, Tightness, Use, Winding


def _choices(words: type) -> list[tuple[str, str]]:
    return [(word.value, word.value) for word in words]  # type: ignore[attr-defined]


class Calibre(models.Model):
    """A movement type."""

    code = models.CharField(max_length=64, unique=True)
    winding = models.CharField(max_length=16, blank=True, choices=_choices(Winding))
    beats_per_hour = models.PositiveIntegerField(null=True)
    lift_angle_deg = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    power_reserve_h = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    complexity = models.CharField(max_length=16, blank=True, choices=_choices(Complexity))

    def __str__(self) -> str:
        return self.code


class WatchModel(models.Model):
    """A model by its reference. `rated_bar` empty: no pressure rating, hence no tightness check."""

    reference = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=200, blank=True)
    calibre = models.ForeignKey(Calibre, on_delete=models.PROTECT, null=True, related_name="models")
    rated_bar = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    divers = models.BooleanField(null=True)
    case_material = models.CharField(max_length=100, blank=True)

    def __str__(self) -> str:
        return self.name or self.reference


class Boutique(models.Model):
    """A shop of the house."""

    code = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=200, blank=True)
    country = models.CharField(max_length=2, blank=True)
    time_zone = models.CharField(max_length=64, blank=True)

    def __str__(self) -> str:
        return self.name or self.code


class Owner(models.Model):
    """Who wears the pieces. `letters` None: nobody asked; only a yes is written to.

    The three keys are for searching; `book.actions.owner_keys` derives them wherever an owner is written.
    """

    code = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=200, blank=True)
    email = models.CharField(max_length=254, blank=True)
    phone = models.CharField(max_length=64, blank=True)
    language = models.CharField(max_length=35, blank=True)
    country = models.CharField(max_length=2, blank=True)
    time_zone = models.CharField(max_length=64, blank=True)
    letters = models.BooleanField(null=True)
    # Their particulars were erased on this day, and no import brings them back.
    erased_on = models.DateField(null=True)
    name_key = models.CharField(max_length=600, blank=True, db_index=True)
    family_name_key = models.CharField(max_length=600, blank=True, db_index=True)
    phone_key = models.CharField(max_length=64, blank=True, db_index=True)

    class Meta:
        indexes = [
            models.Index(Lower("email"), name="owners_by_email"),
            models.Index(fields=["id"], condition=Q(email="", letters=True), name="owners_without_email"),
        ]

    def __str__(self) -> str:
        return self.name or self.code


class PostalAddress(models.Model):
    """Where a paper letter or a piece reaches an owner: the lines of the envelope, without name and country."""

    owner = models.OneToOneField(Owner, on_delete=models.PROTECT, related_name="postal_address")
    lines = models.TextField()


class Piece(models.Model):
    """One physical watch. `place` says who holds it now; `Custody` has every move."""

    serial = models.CharField(max_length=64, unique=True)
    model = models.ForeignKey(WatchModel, on_delete=models.PROTECT, null=True, related_name="pieces")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, null=True, related_name="pieces")
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, null=True, related_name="pieces")
    made_on = models.DateField(null=True)
    sold_on = models.DateField(null=True)
    use = models.CharField(max_length=16, blank=True, choices=_choices(Use))
    extension_enrolled_on = models.DateField(null=True)
    status = models.CharField(max_length=16, blank=True, choices=_choices(Status))
    place = models.CharField(max_length=16, choices=_choices(Place), default=Place.OWNER.value)
    serial_key = models.CharField(max_length=64, db_index=True)
    serial_key_reversed = models.CharField(max_length=64, db_index=True)

    class Meta:
        indexes = [
            # A few hundred rows of a million: what is in the house.
            models.Index(fields=["place"], name="pieces_in_the_house", condition=~Q(place=Place.OWNER.value))
        ]

    def __str__(self) -> str:
        return self.serial


class HistoryEntry(models.Model):
    """One thing done to one piece. Facts only: triggers refuse a change; a later entry corrects (`voids`).

    An entry that was voided stays voided, also when the one that voided it is corrected in its turn.
    """

    code = models.CharField(max_length=64, unique=True)
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="history")
    done_on = models.DateField()
    kind = models.CharField(max_length=16, choices=_choices(EntryKind))
    case_opened = models.BooleanField(null=True)
    tightness = models.CharField(max_length=16, blank=True, choices=_choices(Tightness))
    done_by = models.CharField(max_length=16, blank=True, choices=_choices(DoneBy))
    accepted = models.BooleanField(null=True)
    note = models.TextField(blank=True)
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    voids = models.ForeignKey("self", on_delete=models.PROTECT, null=True, db_index=False, related_name="corrections")

    class Meta:
        indexes = [models.Index(fields=["piece", "done_on"], name="history_of_piece")]
        constraints = [
            models.UniqueConstraint(fields=["voids"], condition=Q(voids__isnull=False), name="an_entry_is_voided_once")
        ]


class Custody(models.Model):
    """One move of a piece from one pair of hands to another. Facts only."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="custody")
    place = models.CharField(max_length=16, choices=_choices(Place))
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, null=True, related_name="+")
    since = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["piece", "since"], name="custody_of_piece"),
            models.Index(fields=["since"], name="custody_by_day"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~Q(place=Place.BOUTIQUE.value) | Q(boutique__isnull=False), name="custody_names_the_boutique"
            )
        ]
