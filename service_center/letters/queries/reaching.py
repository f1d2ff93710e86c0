"""Owners whom a letter would go to, and whom no mail reaches: whom to telephone or write to on paper, and whom not."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Q, QuerySet
from django.db.models.functions import Lower

from service_center.book.models import Owner, Piece
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter, LetterGround, StoppedAddress
from service_center.letters.queries.coming import selections, wants_letters
from service_center.letters.queries.grounds import latest_ground
from service_center.letters.queries.rounds import OwnerBeforeRound, owners_before_round
from service_center.letters.queries.unsaid import came_back
from service_center.letters.rules.deciding import Decision, Reason, decide, out_of_reach
from service_center.letters.rules.words import Channel, Ground, LetterState

PAGE = 25
AT_A_LOOK = 200  # owners without mail that are looked through for one page
PREPARED_SHOWN = 200  # letters that wait to be told or posted; the rest stands there once these are done
LOOKED_AT = 500  # open due dates, for those who are not to be contacted
LEFT_ALONE = 200  # shown of those who are not to be contacted; the rest is counted in a round's own list


@dataclass(slots=True)
class ToReach:
    """One owner whom mail does not reach, why, and the pieces for which something would go out."""

    owner: Owner
    reason: Reason
    pieces: list[Piece] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class LeftAlone:
    """One piece for which nothing is to be said to anybody now, and why."""

    piece: Piece
    reason: Reason


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a page begins: after an owner without an address, or (`stopped`) after a stop of one. `key` is its id."""

    key: int = 0
    stopped: bool = False

    @classmethod
    def from_text(cls, text: str) -> "Cursor":
        """From "42" or "stop-42"; the beginning for anything else."""
        number = text.removeprefix("stop-")
        if not (number.isascii() and number.isdigit() and len(number) < 19):
            return cls()
        return cls(int(number), number != text)

    def __str__(self) -> str:
        return f"stop-{self.key}" if self.stopped else f"{self.key}"


FROM_THE_BEGINNING = Cursor()


@dataclass(frozen=True, slots=True)
class Reaching:
    """A page of owners to reach, and where to go on; None at the end."""

    rows: list[ToReach]
    following: Cursor | None


def to_reach(as_of: date, after: Cursor = FROM_THE_BEGINNING) -> Reaching:
    """Owners to telephone or to write to on paper: those without an address, then those whose address is stopped.

    They have letters, and a ground for them: only the mail fails. Whose letter came back is not among them, but
    on the list of those (`came_back`) until they were told. A page looks through so many owners whom no mail
    reaches, and costs the same however many pieces and stopped addresses there are: some twenty statements. It may have
    fewer rows than PAGE, or none, and still go on.
    """
    candidates, beyond = _without_mail(after)
    found: dict[int, dict[int, Piece]] = defaultdict(dict)
    for rows in selections(as_of) if candidates else []:
        chosen = rows.filter(wants_letters(), held="", piece__owner__in=[one.owner for one in candidates])
        for row in chosen.select_related("piece__model").order_by("piece__serial"):
            found[row.piece.owner_id or 0][row.piece_id] = row.piece
    # Those stand on the page with the letter that came back: one row an owner.
    came = set(came_back().filter(owner__in=found).values_list("owner", flat=True)) if found else set()
    listed = [one for one in candidates if one.owner in found and one.owner not in came]
    page = [one for one in listed if one.at in {other.at for other in listed[:PAGE]}]  # two may share an address
    owners = _with_something_to_say([one.owner for one in page], as_of)
    return Reaching(
        [
            ToReach(
                owners[one.owner],
                Reason.ADDRESS_STOPPED if owners[one.owner].email else Reason.NO_EMAIL,
                _in_order(found[one.owner]),
            )
            for one in page
            if one.owner in owners
        ],
        page[-1].at if len(listed) > len(page) else beyond,
    )


def _with_something_to_say(owners: list[int], as_of: date) -> dict[int, Owner]:
    """Those for whom a letter would be prepared: the selections go by planned days, and owners were told on later ones."""
    befores = owners_before_round(Owner.objects.filter(pk__in=owners), as_of) if owners else []
    return {one.owner.pk: one.owner for one in befores if _decide(one, as_of).reminders}


def _decide(before: OwnerBeforeRound, as_of: date) -> Decision:
    """What goes to an owner whom no mail reaches: weekends and holidays are the desk's own."""
    return decide(before.side, as_of, lambda _day: True)


def _in_order(pieces: dict[int, Piece]) -> list[Piece]:
    return sorted(pieces.values(), key=lambda piece: piece.serial)


@dataclass(frozen=True, slots=True)
class _Candidate:
    """An owner whom no mail reaches, and where they stand among all of them."""

    owner: int
    at: Cursor


def _without_mail(after: Cursor) -> tuple[list[_Candidate], Cursor | None]:
    """The next owners who have letters and no address that works, and where to go on when these are through.

    By index, in two statements: those without an address, and when there are no more, those whose address is stopped.
    """
    some: list[_Candidate] = []
    if not after.stopped:
        without = Owner.objects.filter(letters=True, email="", pk__gt=after.key).order_by("pk")
        keys = list(without.values_list("pk", flat=True)[: AT_A_LOOK + 1])
        some = [_Candidate(key, Cursor(key)) for key in keys[:AT_A_LOOK]]
        if len(keys) > AT_A_LOOK:
            return some, some[-1].at
    stopped, beyond = _stopped(after.key if after.stopped else 0, AT_A_LOOK - len(some))
    return [*some, *stopped], beyond


def _stopped(after: int, most: int) -> tuple[list[_Candidate], Cursor | None]:
    stops = list(StoppedAddress.objects.filter(pk__gt=after).order_by("pk").values_list("email", "pk")[: most + 1])
    some = dict(stops[:most])
    # Named one by one, so that the index of addresses is asked and not every owner.
    owners = Owner.objects.filter(letters=True).annotate(lower=Lower("email")).filter(lower__in=list(some))
    found = [_Candidate(owner, Cursor(some[email], stopped=True)) for owner, email in owners.values_list("pk", "lower")]
    last = max(some.values(), default=after)
    beyond = Cursor(last, stopped=True) if len(stops) > most else None
    return sorted(found, key=lambda one: (one.at.key, one.owner)), beyond


def left_alone(as_of: date) -> tuple[list[LeftAlone], bool]:
    """Pieces for which something would go out, and whose owner is not to be contacted about it; and whether some more may be.

    Looked for among the first due dates that are open, so many of them. Ten statements, by index.
    """
    candidates, reached, more = _open_beyond_reach(as_of)
    found: dict[int, LeftAlone] = {}
    for rows in selections(as_of) if candidates else []:
        of_these = rows.filter(piece__in=candidates).select_related("piece__owner", "piece__model").order_by("pk")
        for row in of_these:
            reason = _reason(row, has_ground=row.piece.owner_id in reached)
            if reason and row.piece_id not in found:
                found[row.piece_id] = LeftAlone(row.piece, reason)
    listed = sorted(found.values(), key=lambda one: (one.reason, one.piece.serial))
    return listed[:LEFT_ALONE], more or len(listed) > LEFT_ALONE


def _open_beyond_reach(as_of: date) -> tuple[list[int], set[int], bool]:
    """Pieces with an open due date that is held, or whose owner has no letters or no ground; the owners who have both.

    And whether more due dates are open than were looked at. Two statements.
    """
    open_now = Q(opens_on__lte=as_of) | Q(owed_since__lte=as_of)
    rows = DueDate.objects.filter(open_now, starts_on__isnull=False).order_by("pk")
    looked_at = list(rows.values_list("piece", "held", "piece__owner", "piece__owner__letters")[:LOOKED_AT])
    asked = {owner for _piece, _held, owner, letters in looked_at if letters}
    grounds = LetterGround.objects.filter(owner__in=asked).order_by("pk").values_list("owner", "ground")
    reached = {owner for owner, ground in dict(grounds).items() if ground != Ground.WITHDRAWN}
    beyond = [piece for piece, held, owner, _letters in looked_at if held or owner not in reached]
    return beyond, reached, len(looked_at) == LOOKED_AT


def _reason(row: DueDate, *, has_ground: bool) -> Reason | None:
    owner = row.piece.owner
    return out_of_reach(
        has_owner=owner is not None,
        letters=owner.letters if owner else None,
        has_ground=has_ground,
        # Whom only the mail fails is on the other list: told or written to on paper.
        email="somewhere",
        stopped=False,
        held=row.held,
    )


def prepared() -> QuerySet[Letter]:
    """Letters that wait to be told or sent on paper, the oldest first."""
    return (
        Letter.objects.filter(state=LetterState.HELD)
        .exclude(channel=Channel.MAIL)
        .select_related("owner")
        .order_by("pk")
    )


def decision_for(owner: Owner, as_of: date) -> Decision | None:
    """What would go to one owner today if mail reached them; None for one whom mail reaches or who wants none.

    Nobody is telephoned twice in 28 days either. Of an owner whose letter came back that one is told, and nothing
    beside it.
    """
    reached_by_mail = owner.email and not StoppedAddress.objects.filter(email=owner.email.lower()).exists()
    if owner.letters is not True or reached_by_mail or not _on_a_ground(owner):
        return None
    if came_back().filter(owner=owner).exists():
        return None
    [before] = owners_before_round(Owner.objects.filter(pk=owner.pk), as_of)
    return _decide(before, as_of)


def _on_a_ground(owner: Owner) -> bool:
    ground = latest_ground(owner)
    return ground is not None and ground.ground != Ground.WITHDRAWN


def pieces_of(letter: Letter) -> list[Piece]:
    """The pieces of which a letter speaks."""
    return list(Piece.objects.filter(reminders__letter=letter, reminders__ended_on=None).distinct().order_by("serial"))
