"""The least valid record of each kind. A test says what its sentence needs; the rest is filled in here."""

from datetime import date
from typing import Any

import factory
from factory.django import DjangoModelFactory

from service_center.access.models import Staff
from service_center.book.actions import owner_keys, piece_keys
from service_center.book.models import Boutique, Calibre, HistoryEntry, Owner, Piece, WatchModel
from service_center.letters.actions import note_ground
from service_center.letters.rules.words import Ground


class StaffFactory(DjangoModelFactory):
    class Meta:
        model = Staff

    username = factory.Sequence(lambda n: f"staff-{n}")
    role = "desk"


class CalibreFactory(DjangoModelFactory):
    class Meta:
        model = Calibre

    code = factory.Sequence(lambda n: f"FH-{n + 10}")
    winding = "automatic"
    beats_per_hour = 28_800
    lift_angle_deg = 52
    power_reserve_h = 42
    complexity = "automatic"


class WatchModelFactory(DjangoModelFactory):
    class Meta:
        model = WatchModel

    reference = factory.Sequence(lambda n: f"SK-{n:04d}")
    name = "Skerry"
    calibre = factory.SubFactory(CalibreFactory)
    rated_bar = 10
    divers = False


class BoutiqueFactory(DjangoModelFactory):
    class Meta:
        model = Boutique

    code = factory.Sequence(lambda n: f"B{n}")
    name = "Harrowmere"
    country = "GB"
    time_zone = "Europe/London"


class OwnerFactory(DjangoModelFactory):
    class Meta:
        model = Owner

    class Params:
        keys = factory.LazyAttribute(lambda o: owner_keys(name=o.name, phone=o.phone))

    code = factory.Sequence(lambda n: f"O{n:05d}")
    name = factory.Sequence(lambda n: f"Ada Winter {n}")
    email = factory.LazyAttribute(lambda o: f"{o.code.lower()}@owners.example")
    phone = "+44 20 7946 0123"
    language = "en"
    country = "GB"
    time_zone = "Europe/London"
    letters = True
    name_key = factory.LazyAttribute(lambda o: o.keys["name_key"])
    family_name_key = factory.LazyAttribute(lambda o: o.keys["family_name_key"])
    phone_key = factory.LazyAttribute(lambda o: o.keys["phone_key"])

    @factory.post_generation
    def ground(self: Any, create: bool, extracted: Ground | None, **_more: Any) -> None:
        """Whoever has letters has them on a ground."""
        if create and self.letters:
            note_ground(
                self, extracted or Ground.EXISTING_CUSTOMER, on=date(2019, 5, 17), wording="Told at the sale.", by=None
            )


class PieceFactory(DjangoModelFactory):
    class Meta:
        model = Piece

    class Params:
        keys = factory.LazyAttribute(lambda o: piece_keys(o.serial))

    # Far from the serials that tests write out: whichever tests ran before, none of these is one of them.
    serial = factory.Sequence(lambda n: f"FH21-{n + 500_000:06d}")
    model = factory.SubFactory(WatchModelFactory)
    owner = factory.SubFactory(OwnerFactory)
    boutique = factory.SubFactory(BoutiqueFactory)
    made_on = date(2018, 11, 5)
    sold_on = date(2019, 5, 17)
    use = "everyday"
    status = "in_use"
    serial_key = factory.LazyAttribute(lambda o: o.keys["serial_key"])
    serial_key_reversed = factory.LazyAttribute(lambda o: o.keys["serial_key_reversed"])


class HistoryEntryFactory(DjangoModelFactory):
    class Meta:
        model = HistoryEntry

    code = factory.Sequence(lambda n: f"E{n:06d}")
    piece = factory.SubFactory(PieceFactory)
    done_on = date(2023, 3, 2)
    kind = "overhaul"
    case_opened = True
    tightness = "passed"
    done_by = "own"


def history(piece: Piece, day: str, **fields: Any) -> HistoryEntry:
    """One entry of a piece on an ISO day."""
    entry: HistoryEntry = HistoryEntryFactory(piece=piece, done_on=date.fromisoformat(day), **fields)
    return entry
