"""Interval rules (facts of the house) and due dates (conclusions, recomputable at any time)."""

from typing import Any

from django.db import models
from django.db.models import F, Q

from service_center.book.models import Boutique, HistoryEntry, Piece
from service_center.book.rules import ServiceKind, Use
from service_center.intervals.rules import Scope, StartFact

KINDS = [(kind.value, kind.value) for kind in ServiceKind]


class IntervalRule(models.Model):
    """How many months after the start a kind opens, is due and closes. Equal rules cannot be saved twice."""

    code = models.CharField(max_length=64, unique=True)
    kind = models.CharField(max_length=16, choices=KINDS)
    scope = models.CharField(max_length=16, choices=[(scope.value, scope.value) for scope in Scope])
    scope_value = models.CharField(max_length=64, blank=True)
    use = models.CharField(max_length=16, choices=[("any", "any"), *((use.value, use.value) for use in Use)])
    opens_months = models.PositiveSmallIntegerField()
    due_months = models.PositiveSmallIntegerField()
    closes_months = models.PositiveSmallIntegerField()
    in_force_from = models.DateField()
    covers_running = models.BooleanField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "scope", "scope_value", "use", "in_force_from"], name="no_two_equal_rules"
            ),
            models.CheckConstraint(
                condition=Q(opens_months__lte=F("due_months")) & Q(due_months__lte=F("closes_months")),
                name="opens_before_due_before_closes",
            ),
            models.CheckConstraint(
                condition=(Q(scope=Scope.HOUSE.value) & Q(scope_value=""))
                | (~Q(scope=Scope.HOUSE.value) & ~Q(scope_value="")),
                name="every_scope_but_the_house_has_a_value",
            ),
        ]


# A due date is worked out from the very rows it points to, which are never taken away: checking each of ten million
# pointers again would cost more than working them out.
CONCLUDED: dict[str, Any] = {
    "on_delete": models.PROTECT, "db_index": False, "db_constraint": False, "related_name": "+",
}  # fmt: skip


TELL_STATE = ("opens_on", "closes_on", "owed_since", "held")


class DueDate(models.Model):
    """When one kind of service of one piece opens, is due and closes; dates are empty where no start is known.

    `held` and `boutique` repeat facts of the piece, so that the desk's list reads one table by index.
    `rule` empty means the house defaults. `owed_since` is set where it cannot wait: a tightness test is owed
    (`owed_entry` left it owing), or a reading fell short (`evidence`, as rules/evidence.py records it).
    """

    piece = models.ForeignKey(
        Piece, on_delete=models.CASCADE, db_index=False, db_constraint=False, related_name="due_dates"
    )
    kind = models.CharField(max_length=16, choices=KINDS)
    starts_on = models.DateField(null=True)
    start_fact = models.CharField(max_length=16, blank=True, choices=[(fact.value, fact.value) for fact in StartFact])
    start_entry = models.ForeignKey(HistoryEntry, null=True, **CONCLUDED)
    # A rule can be taken back; whoever does that works out anew what pointed to it (actions/rulebook.py).
    rule = models.ForeignKey(IntervalRule, null=True, **(CONCLUDED | {"on_delete": models.DO_NOTHING}))
    opens_on = models.DateField(null=True)
    due_on = models.DateField(null=True)
    closes_on = models.DateField(null=True)
    owed_since = models.DateField(null=True)
    owed_entry = models.ForeignKey(HistoryEntry, null=True, **CONCLUDED)
    evidence = models.JSONField(null=True)
    held = models.CharField(max_length=16, blank=True)
    boutique = models.ForeignKey(Boutique, null=True, **CONCLUDED)

    class Meta:
        # Two million rows for a whole maker: an index more is paid for at every recomputation. The pages of the desk's
        # list are read off the first three, the rare states and cases off the others, a piece's dates off the unique key.
        # Behind its order an index holds what tells a row's state, so that ten thousand rows are counted without a look
        # at the table, where each lies on a page of its own.
        constraints = [models.UniqueConstraint(fields=["piece", "kind"], name="one_due_date_a_kind")]
        indexes = [
            models.Index(fields=["due_on", "id", *TELL_STATE], name="due_by_day"),
            models.Index(fields=["kind", "due_on", "id", *TELL_STATE], name="due_by_kind"),
            models.Index(fields=["boutique", "due_on", "id", "kind", *TELL_STATE], name="due_by_boutique"),
            models.Index(fields=["id"], condition=~Q(held=""), name="due_held"),
            models.Index(fields=["id"], condition=Q(due_on__isnull=True), name="due_without_a_start"),
            models.Index(fields=["due_on", "id", "held"], condition=Q(owed_since__isnull=False), name="due_owed"),
            models.Index(
                fields=["kind", "due_on", "id", "held"],
                condition=Q(owed_since__isnull=False),
                name="due_owed_by_kind",
            ),
            models.Index(
                fields=["boutique", "due_on", "id", "kind", "held"],
                condition=Q(owed_since__isnull=False),
                name="due_owed_by_boutique",
            ),
            models.Index(fields=["due_on", "id"], condition=Q(evidence__isnull=False), name="due_by_evidence"),
        ]


class StoredDays(models.Model):
    """Of which days the stored due dates are: worked out for days from the first to the last. One row, or none yet.

    Facts dated between them may be in some rows and missing from others; `bring_to` makes all of one day.
    """

    first_day = models.DateField()
    last_day = models.DateField()

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="one_row_of_stored_days")]


class ForeseenDue(models.Model):
    """What other rules would make of one due date: a row of a temporary table of one connection, gone after the look.

    Made, filled and dropped by queries/foreseeing.py. Dates are empty where no start is known or the kind does not
    apply (`applied`, `applies`). `months` is by how much the rule alone moves the due day, empty where it does not
    decide; `invited_before` and `invited_after` are the days from which an invitation makes sense.
    """

    piece = models.ForeignKey(Piece, on_delete=models.DO_NOTHING, db_constraint=False, related_name="+")
    kind = models.CharField(max_length=16)
    starts_on = models.DateField(null=True)
    owed_since = models.DateField(null=True)
    held = models.CharField(max_length=16)
    applied = models.BooleanField()
    applies = models.BooleanField()
    opens_before = models.DateField(null=True)
    due_before = models.DateField(null=True)
    closes_before = models.DateField(null=True)
    opens_after = models.DateField(null=True)
    due_after = models.DateField(null=True)
    closes_after = models.DateField(null=True)
    months = models.IntegerField(null=True)
    invited_before = models.DateField(null=True)
    invited_after = models.DateField(null=True)

    class Meta:
        managed = False
        db_table = "due_foreseen"
