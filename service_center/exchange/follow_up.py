"""What follows from an import: new due dates, grounds for letters, and the end of letters whose reason is gone."""

from dataclasses import dataclass, field
from datetime import date

from django.db.models import QuerySet

from service_center.book.models import Piece
from service_center.exchange.comparing import Counts, changed_ids
from service_center.exchange.tables import Table
from service_center.exchange.writing import pieces_added_after
from service_center.intervals.actions import recompute
from service_center.letters.actions import end_reminders, note_existing_customers
from service_center.letters.actions.ending import NOT_GONE_OUT, end_all_of
from service_center.letters.models import Reminder

# What of a model and of a piece its due dates hang on (due-dates.md).
DECISIVE_OF_MODEL = ("calibre", "rated_bar")


@dataclass(slots=True)
class Touched:
    """The pieces whose facts an import changes; `everything` where naming them is not worth it.

    `left`: pieces that change hands while a letter about them waits, by the owner they leave.
    """

    pieces: set[int] = field(default_factory=set)
    left: dict[int, int] = field(default_factory=dict)
    everything: bool = False
    owners: bool = False

    def before(self, table: Table, counts: Counts) -> None:
        """Note the pieces that a file is about to change. Asked before it is written."""
        if table.file.stem == "rules":
            self.everything |= bool(counts.added or counts.changed)
        if table.file.stem == "models" and counts.changed and not self.everything:
            models = changed_ids(table, DECISIVE_OF_MODEL)
            self.pieces.update(Piece.objects.filter(model__in=models).values_list("pk", flat=True))
        if table.file.stem == "pieces":
            self.everything |= self._most(counts.added + counts.changed)
            if counts.changed and not self.everything:
                self.pieces.update(changed_ids(table, [column.name for column in table.file.columns[1:]]))
            if counts.changed:
                written_to = _spoken_of().exclude(owner=None).values_list("pk", "owner")
                changing_hands = set(changed_ids(table, ["owner"]))
                self.left = {pk: owner for pk, owner in written_to if owner and pk in changing_hands}

    def after(self, table: Table, counts: Counts, before: int) -> None:
        """Note the pieces that a file brought or brought something about. `before`: the table's highest id before."""
        self.owners |= table.file.stem == "owners" and bool(counts.added or counts.changed)
        if table.file.stem not in {"pieces", "history"} or not counts.added:
            return
        self.everything |= self._most(counts.added)
        if not self.everything:
            self.pieces.update(pieces_added_after(table, before))

    def _most(self, rows: int) -> bool:
        """Whether some rows are about so much of the book that one pass over all of it costs less."""
        return rows > 10_000 and rows > Piece.objects.count() // 2


def follow_up(touched: Touched, *, as_of: date) -> None:
    """Note on which ground new owners have letters, work the due dates out anew, and end the letters that they no longer bear out."""
    if touched.owners:
        note_existing_customers(on=as_of)
    if touched.everything or touched.pieces:
        recompute(None if touched.everything else touched.pieces, as_of=as_of)
    for pk, owner in touched.left.items():
        end_all_of([pk], owner=owner, on=as_of, because="the piece has another owner")
    for piece in list(_spoken_of().order_by("pk")):
        if touched.everything or piece.pk in touched.pieces:
            end_reminders(piece, on=as_of, because="the book was imported with new facts")


def _spoken_of() -> QuerySet[Piece]:
    """Pieces of which a letter speaks that has not gone out."""
    waiting = Reminder.objects.filter(ended_on=None, letter__state__in=NOT_GONE_OUT)
    return Piece.objects.filter(pk__in=waiting.values("piece"))
