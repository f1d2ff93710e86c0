"""What of an owner stands where: rows to be emptied, remarks that may name them, what keeps an erasure back."""

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from django.conf import settings
from django.db.models import Model, Q, QuerySet

from service_center.access.models import Trail
from service_center.book.models import Custody, HistoryEntry, Owner, Piece, PostalAddress
from service_center.book.rules import Place
from service_center.guarantee.models import CoverDecision
from service_center.intake.models import Draft, DropOff, Photograph, Signature, Visit
from service_center.intake.queries import day_at, handed_back
from service_center.intake.visits.rules import VisitState
from service_center.intervals.rules import add_months
from service_center.letters.models import Letter
from service_center.letters.rules.words import LetterState
from service_center.measurements.models import ReserveReading, TightnessResult, TimingSheet
from service_center.owner_pages.models import EmailChange, Notice
from service_center.workshop.models import OrderEstimate, OrderFinding, OrderMove, OrderOperation, WorkOrder

IN_HAND = [LetterState.HANDING_OVER.value, LetterState.AT_THE_DOT.value, LetterState.IN_DOUBT.value]
LEAST = 4  # characters; a shorter word says nothing of a person by itself
GONE = "—"


class Obstacle(StrEnum):
    """Why an owner cannot be erased now."""

    PIECE_HERE = "piece_here"
    STARTED = "started"
    VISIT = "visit"
    LETTER_IN_HAND = "letter_in_hand"
    ERASED = "erased"
    JOURNAL = "journal"


@dataclass(frozen=True, slots=True)
class Kept:
    """Signed receipts and photographs that the law keeps, and until when the last of them."""

    receipts: int = 0
    photographs: int = 0
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Particulars:
    """Everything by which a text could name an owner: names, addresses, telephones."""

    words: tuple[str, ...]
    emails: tuple[str, ...] = field(default=())

    def out_of(self, text: str) -> str:
        """The text without them."""
        return self._found().sub(GONE, text) if self.words else text

    def out_of_record(self, record: Any) -> Any:
        """A record of JSON without them."""
        if isinstance(record, str):
            return self.out_of(record)
        if isinstance(record, list):
            return [self.out_of_record(one) for one in record]
        if isinstance(record, dict):
            return {key: self.out_of_record(value) for key, value in record.items()}
        return record

    def _found(self) -> re.Pattern[str]:
        longest = sorted(self.words, key=len, reverse=True)
        # As it is written, or shouted: a family name may be a common word that means nobody.
        written = [spelt for word in longest for spelt in dict.fromkeys((word, word.upper(), _as_mail(word)))]
        return re.compile("|".join(rf"(?<!\w){re.escape(word)}(?!\w)" for word in written))


def particulars_of(owner: Owner) -> Particulars:
    """What the house knows them by, now and before. Four statements."""
    emails, words = {owner.email}, {owner.name, owner.phone, owner.phone.replace(" ", ""), *owner.name.split()}
    for before, after in EmailChange.objects.filter(owner=owner).values_list("before", "email"):
        emails |= {before, after}
    emails |= set(Letter.objects.filter(owner=owner).exclude(email="").values_list("email", flat=True).distinct())
    for lines in PostalAddress.objects.filter(owner=owner).values_list("lines", flat=True):
        words |= set(lines.splitlines())
    for earlier, later in Trail.objects.filter(subject=f"owner:{owner.code}").values_list("before", "after"):
        told = _told(earlier) | _told(later)
        words |= told
        emails |= {
            one for one in told if "@" in one and " " not in one
        }  # one that the desk put right has no other trace
    emails = {one.strip() for one in emails if one.strip()}
    known = {one.strip() for one in (*words, *emails)}
    return Particulars(tuple(sorted(one for one in known if len(one) >= LEAST)), tuple(sorted(emails)))


def _as_mail(word: str) -> str:
    return word.lower() if "@" in word else word


def _told(record: Any) -> set[str]:
    """Names, telephones and addresses that the trail has from before."""
    if not isinstance(record, dict):
        return set()
    found = {record[key] for key in ("name", "phone", "email") if isinstance(record.get(key), str)}
    return found | set(str(record.get("postal_address") or "").splitlines())


def obstacles(owner: Owner, now: datetime) -> list[Obstacle]:
    """What has to be over first. Six statements at most.

    A visit that nobody marked is over with its day, by the boutique's clock.
    """
    pieces = Piece.objects.filter(owner=owner)
    here = pieces.exclude(place=Place.OWNER).exists()
    brought = DropOff.objects.filter(~handed_back(), owner=owner).exists()
    in_hand = Letter.objects.filter(owner=owner, state__in=IN_HAND).exists()
    notices = Notice.objects.filter(change__owner=owner, state__in=IN_HAND[:2]).exists()
    visits = Visit.objects.filter(owner=owner, state=VisitState.BOOKED).select_related("boutique")
    found = {
        Obstacle.ERASED: owner.erased_on is not None,
        Obstacle.PIECE_HERE: here or brought,
        Obstacle.STARTED: Draft.objects.filter(piece__in=pieces, ended_at=None).exists(),
        Obstacle.VISIT: any(one.day >= day_at(one.boutique, now) for one in visits),
        Obstacle.LETTER_IN_HAND: in_hand or notices,
    }
    return [one for one, holds in found.items() if holds]


def kept_until(taken_on: date) -> date:
    """The last day on which the law keeps what was signed on a day."""
    return add_months(taken_on, 12 * settings.RECEIPT_YEARS)


def kept_of(owner: Owner, as_of: date) -> Kept:
    """What stays sealed for now. Three statements."""
    young = drop_offs_still_kept(as_of).filter(owner=owner)
    latest = young.order_by("-taken_on").values_list("taken_on", flat=True).first()
    return Kept(
        receipts=Signature.objects.filter(drop_off__in=young).exclude(text="").count(),
        photographs=Photograph.objects.filter(draft__drop_off__in=young).count(),
        until=kept_until(latest) if latest else None,
    )


def drop_offs_still_kept(as_of: date) -> QuerySet[DropOff]:
    """Drop-offs whose papers the law keeps on a day."""
    return DropOff.objects.filter(taken_on__gte=add_months(as_of, -12 * settings.RECEIPT_YEARS))


def photographs_past_keeping(owners: Iterable[Owner], as_of: date) -> QuerySet[Photograph]:
    """Photographs of these owners' drop-offs that nothing keeps any more."""
    old = DropOff.objects.filter(owner__in=list(owners)).exclude(pk__in=drop_offs_still_kept(as_of).values("pk"))
    return Photograph.objects.filter(draft__drop_off__in=old)


def pieces_ever(owner: Owner) -> list[Piece]:
    """Pieces that are theirs or were, as far as their own records tell. One statement."""
    brought = DropOff.objects.filter(owner=owner).values("piece")
    written = Letter.objects.filter(owner=owner).values("reminders__piece")
    ordered = WorkOrder.objects.filter(owner=owner).values("piece")
    theirs = Q(owner=owner) | Q(pk__in=brought) | Q(pk__in=written) | Q(pk__in=ordered)
    return list(Piece.objects.filter(theirs))


def remarks_about(pieces: Collection[Piece], owner: Owner) -> list[tuple[QuerySet[Any], str]]:
    """Where somebody of the house may have written of an owner: rows, and the column."""
    mine = {"piece__in": [piece.pk for piece in pieces]}
    letters = Letter.objects.filter(owner=owner).values_list("pk", flat=True)
    subjects = [f"piece:{piece.serial}" for piece in pieces] + [f"letter:{pk}" for pk in letters]
    orders = WorkOrder.objects.filter(**mine).values_list("number", flat=True)
    subjects += [f"order:{number}" for number in orders]
    subjects += [f"visit:{key}" for key in Visit.objects.filter(owner=owner).values_list("key", flat=True)]
    trail = Trail.objects.filter(subject__in=subjects)
    return [
        (HistoryEntry.objects.filter(**mine), "note"),
        (Custody.objects.filter(**mine), "reason"),
        (TimingSheet.objects.filter(**mine), "remark"),
        (TightnessResult.objects.filter(run__piece__in=mine["piece__in"]), "remark"),
        (ReserveReading.objects.filter(**mine), "remark"),
        (CoverDecision.objects.filter(**mine), "reason"),
        *_of_orders(pieces),
        (Letter.objects.filter(owner=owner), "reason"),
        (trail, "reason"),
        (trail, "before"),
        (trail, "after"),
        (DropOff.objects.filter(**mine), "left_with"),
        (DropOff.objects.filter(**mine), "condition"),
        (DropOff.objects.filter(**mine), "estimate"),
    ]


def _of_orders(pieces: Collection[Piece]) -> list[tuple[QuerySet[Any], str]]:
    """What the workshop wrote down at their pieces' orders."""
    of = {"order__piece__in": [piece.pk for piece in pieces]}
    return [
        (OrderMove.objects.filter(**of), "reason"),
        (OrderOperation.objects.filter(**of), "unneeded"),
        (OrderFinding.objects.filter(**of), "what"),
        (OrderEstimate.objects.filter(**of), "note"),
        (OrderEstimate.objects.filter(**of), "lines"),
    ]


def rewrite(rows: QuerySet[Any], column: str, about: Particulars) -> int:
    """Take an owner out of one column of remarks. Returns how many rows named them."""
    model: type[Model] = rows.model
    changed = 0
    for pk, value in list(rows.values_list("pk", column)):
        without = about.out_of_record(value)
        if without != value:
            model._default_manager.filter(pk=pk).update(**{column: without})  # noqa: SLF001
            changed += 1
    return changed
