"""Letters that a backup brought back as waiting: which are held, what the journals said, and what the desk decided."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, Q, QuerySet

from service_center.access.models import Staff, Trail
from service_center.letters.models import Letter
from service_center.letters.queries import listing
from service_center.letters.queries.listing import Cursor, LetterPage, LetterRow, reminders_of
from service_center.letters.rules.restored import AFTER_RESTORE, LETTERS, RESTORED, Deed
from service_center.letters.rules.words import LetterSort, LetterState

PAGE = 100
DECISIONS_SHOWN = 60


def held_letters() -> QuerySet[Letter]:
    """Those that a backup had as waiting, and about which nobody has decided yet."""
    return Letter.objects.filter(state=LetterState.HELD, reason=AFTER_RESTORE)


def held_since_restore() -> int:
    """How many they are; no further than just beyond COUNTED_UP_TO. One statement."""
    return held_letters()[: listing.COUNTED_UP_TO + 1].count()


def in_doubt_since_restore() -> int:
    """How many letters were at the dot when the backup was made, and are in doubt. One statement.

    No further than just beyond COUNTED_UP_TO.
    """
    doubtful = Letter.objects.filter(state=LetterState.IN_DOUBT, reason=AFTER_RESTORE)
    return doubtful[: listing.COUNTED_UP_TO + 1].count()


@dataclass(frozen=True, slots=True)
class Group:
    """How many letters of one day and sort are held."""

    planned_on: date
    sort: LetterSort
    letters: int


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which held letters are looked at: of one day and sort, or all."""

    day: date | None = None
    sort: LetterSort | None = None

    def of(self, letters: QuerySet[Letter]) -> QuerySet[Letter]:
        """Those of `letters` that are meant."""
        if self.day:
            letters = letters.filter(planned_on=self.day)
        return letters.filter(sort=self.sort) if self.sort else letters


def groups() -> list[Group]:
    """The held letters by day and sort. One statement, over those that are held."""
    rows = held_letters().order_by("planned_on", "sort").values_list("planned_on", "sort")
    return [Group(day, LetterSort(sort), letters) for day, sort, letters in rows.annotate(n=Count("pk"))]


def held_page(chosen: Chosen, after: Cursor | None) -> LetterPage:
    """A hundred held letters with their owners, the oldest first. Two statements, by index, wherever the page stands."""
    rows = chosen.of(held_letters()).select_related("owner", "order_word").defer("order_word__paper")
    if after:
        rows = rows.filter(
            Q(planned_on__gt=after.planned_on) | Q(pk__gt=after.letter), planned_on__gte=after.planned_on
        )
    found = list(rows.order_by("planned_on", "pk")[: PAGE + 1])
    page, more = found[:PAGE], len(found) > PAGE
    reminders = reminders_of(page)
    last = Cursor(page[-1].planned_on, page[-1].pk) if more else None
    return LetterPage([LetterRow(letter, reminders[letter.pk]) for letter in page], last)


@dataclass(frozen=True, slots=True)
class Heard:
    """What one hearing of the journals said, and when the last letter in them went out."""

    at: datetime
    marked: int
    written: int
    known: int
    unknown: int
    last_sent_at: datetime


@dataclass(frozen=True, slots=True)
class Decision:
    """What somebody at the desk decided of how many letters. `by` None: at the machine. `ended_because`: empty where they went on."""

    at: datetime
    by: Staff | None
    letters: int
    ended_because: str


@dataclass(frozen=True, slots=True)
class Restore:
    """The latest time that letters were held: when, what the journals said of it, and what was decided since.

    `backup` and `made_at`: of the file, where `restore` brought it back.
    """

    held_at: datetime
    backup: str
    made_at: datetime | None
    heard: Sequence[Heard]
    decisions: Sequence[Decision]

    @property
    def journals_end_at(self) -> datetime | None:
        """When the last letter went out that any journal knows, by the clock of the machine that sent it."""
        return max((one.last_sent_at for one in self.heard), default=None)

    @property
    def unheard(self) -> bool:
        """Whether nothing at all is known of the time after the backup: as long as it is not sure, nothing is.

        Times alone prove nothing: a sender's clock may be ahead of that of the machine that made the backup. A journal
        that reaches beyond it tells of a letter that the backup did not have as sent.
        """
        end = self.journals_end_at
        told_more = any(one.marked or one.written or one.unknown for one in self.heard)
        return end is None or not told_more or bool(self.made_at and end <= self.made_at)


def latest_restore() -> Restore | None:
    """What the trail tells of it; None where no letter was ever held after one. Four statements, by index.

    What was held and heard is looked up by itself: each deed of the desk leaves a row, and there may be hundreds.

    In the order in which the rows were written: their times are of more than one machine's clock.
    """
    told_of_letters = Trail.objects.filter(subject=LETTERS).order_by("-pk")
    holds = list(told_of_letters.filter(deed=Deed.HELD)[:2])
    if not holds:
        return None
    held, held_before = holds[0], holds[1].pk if len(holds) > 1 else 0
    since = told_of_letters.filter(pk__gt=held.pk)
    decisions = since.filter(deed__in=[Deed.WENT_ON, Deed.ENDED]).select_related("by")
    brought = Trail.objects.filter(subject=RESTORED, pk__gt=held_before, pk__lt=held.pk).order_by("-pk")
    told = _told(brought.first())
    return Restore(
        held_at=held.at,
        backup=told.get("backup", ""),
        made_at=datetime.fromisoformat(told["made_at"]) if "made_at" in told else None,
        heard=[_heard(row) for row in since.filter(deed=Deed.JOURNALS_HEARD)],
        decisions=[_decision(row) for row in decisions[:DECISIONS_SHOWN]],
    )


def _told(row: Trail | None) -> dict[str, Any]:
    found: dict[str, Any] = (row.after if row else None) or {}
    return found


def _heard(row: Trail) -> Heard:
    told = _told(row)
    return Heard(
        at=row.at,
        marked=told["marked"],
        written=told["written"],
        known=told["known"],
        unknown=told["unknown"],
        last_sent_at=datetime.fromisoformat(told["last_sent_at"]),
    )


def _decision(row: Trail) -> Decision:
    letters = _told(row)["letters"]
    ended = row.deed == Deed.ENDED
    return Decision(row.at, row.by, len(letters) if ended else letters, row.reason if ended else "")
