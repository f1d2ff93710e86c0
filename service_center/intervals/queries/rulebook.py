"""Reading the house's rules as its staff see them: what is written, and who changed what and when."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import Q

from service_center.access.models import Staff, Trail
from service_center.book.models import Calibre, Piece, WatchModel
from service_center.intervals.models import IntervalRule
from service_center.intervals.queries import setwise
from service_center.intervals.queries.facts import as_rule
from service_center.intervals.queries.look import pieces_spoken_of
from service_center.intervals.rules import PieceFacts, Rule, Scope
from service_center.intervals.rules.rulebook import Change, applying, changed, next_code, rule_from_record

# One subject for every change of a rule: the trail is read by it, newest first.
SUBJECT = "interval_rules:house"
PAGE = 30


@dataclass(frozen=True, slots=True)
class Deed:
    """One change of the rules; `removed` are those it took back or ended. An import says how many rules it brought or changed, not which (`imported`)."""

    key: int
    at: datetime
    by: Staff | None
    deed: str
    added: tuple[Rule, ...]
    removed: tuple[Rule, ...]
    imported: int
    reason: str


def written_rules() -> tuple[Rule, ...]:
    """The rules that the house has written; none where the defaults of the trade apply. One statement."""
    return tuple(as_rule(row) for row in IntervalRule.objects.order_by("code"))


def rule_by_key(key: int) -> Rule | None:
    """One written rule. One statement."""
    row = IntervalRule.objects.filter(pk=key).first()
    return as_rule(row) if row else None


def keys_of_rules() -> dict[str, int]:
    """The key of each written rule by its code. One statement."""
    return dict(IntervalRule.objects.values_list("code", "pk"))


def before_and_after(change: Change) -> tuple[tuple[Rule, ...], tuple[Rule, ...]]:
    """The rules that apply now, and those that a change would make of them, with the codes they would get. Three statements."""
    written, codes = written_rules(), codes_ever_given()
    added = []
    for rule in change.added:
        added.append(replace(rule, code=next_code(codes)))
        codes.add(added[-1].code)
    return applying(written), changed(written, replace(change, added=tuple(added)))


def pieces_touched(rules: Sequence[Rule]) -> Any:
    """The pieces that any of some rules speaks of, as a queryset of keys."""
    return Piece.objects.filter(pieces_spoken_of(rules)).order_by("pk").values_list("pk", flat=True)


def any_piece_under(rule: Rule) -> PieceFacts:
    """A piece of a rule's scope, as far as scope goes. At most one statement."""
    reference, calibre = "", rule.scope_value if rule.scope is Scope.CALIBRE else ""
    if rule.scope is Scope.MODEL:
        reference = rule.scope_value
        found = WatchModel.objects.filter(reference=reference).values_list("calibre__code", flat=True).first()
        calibre = found or ""
    if rule.scope is Scope.PIECE:
        models = Piece.objects.filter(serial=rule.scope_value).values_list("model__reference", "model__calibre__code")
        reference, calibre = (text or "" for text in models.first() or ("", ""))
    return setwise.any_piece_of(rule.scope_value if rule.scope is Scope.PIECE else "", reference, calibre, "")


def calibres() -> list[str]:
    """The codes of the book's calibres. One statement."""
    return list(Calibre.objects.order_by("code").values_list("code", flat=True))


def references(at_most: int) -> list[str]:
    """The references of the book's models. One statement."""
    return list(WatchModel.objects.order_by("reference").values_list("reference", flat=True)[:at_most])


def exists(scope: Scope, value: str) -> bool:
    """Whether the book has what a rule of that scope would be for. One statement."""
    match scope:
        case Scope.HOUSE:
            return value == ""
        case Scope.CALIBRE:
            return Calibre.objects.filter(code=value).exists()
        case Scope.MODEL:
            return WatchModel.objects.filter(reference=value).exists()
        case Scope.PIECE:
            return Piece.objects.filter(serial=value).exists()


def how_many_pieces() -> int:
    """How many pieces the book has. One statement."""
    return Piece.objects.count()


def deeds(*, before: int | None = None) -> tuple[list[Deed], int | None]:
    """Changes of the rules, the newest first, and the key after which older ones go on (None: there are none)."""
    by_hand = Q(subject=SUBJECT)
    by_import = Q(subject="book:import") & (Q(after__rules__added__gt=0) | Q(after__rules__changed__gt=0))
    rows = Trail.objects.filter(by_hand | by_import).select_related("by").order_by("-pk")
    if before is not None:
        rows = rows.filter(pk__lt=before)
    found = list(rows[: PAGE + 1])
    return [_deed(row) for row in found[:PAGE]], found[PAGE - 1].pk if len(found) > PAGE else None


def _deed(row: Trail) -> Deed:
    told = {"before": row.before, "after": row.after}
    if row.subject != SUBJECT:
        counts = (row.after or {}).get("rules", {})
        imported = counts.get("added", 0) + counts.get("changed", 0)
        return Deed(row.pk, row.at, row.by, row.deed, (), (), imported, row.reason)
    removed, added = (tuple(rule_from_record(one) for one in told[when] or []) for when in ("before", "after"))
    return Deed(row.pk, row.at, row.by, row.deed, added, removed, 0, row.reason)


def codes_ever_given() -> set[str]:
    """Every code that a rule has, or had when somebody changed it. Two statements."""
    trail = Trail.objects.filter(subject=SUBJECT).values_list("before", "after")
    told = {one["rule"] for pair in trail for records in pair for one in records or []}
    return told | set(IntervalRule.objects.values_list("code", flat=True))
