"""Work orders and what belongs to them. Moves, time, findings, estimates and answers are facts: only added."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.models import Boutique, Owner, Piece
from service_center.book.rules import Complexity, EntryKind, Place
from service_center.guarantee.models import FINDINGS, CoverDecision
from service_center.measurements.models import TimingSheet
from service_center.workshop.orders.rules.answers import Heard
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.orders.rules.steps import Step

KINDS = [(one.value, one.value) for one in EntryKind]
SKILLS = [(one.value, one.value) for one in Complexity]
OPERATIONS = [(one.value, one.value) for one in Operation]
STEPS = [(one.value, one.value) for one in Step]
PLACES = [(one.value, one.value) for one in Place]


class WorkOrder(models.Model):
    """What is done to one piece during one stay. `number` is the drop-off's, by which the receipt names it.

    `complexity` empty: the calibre was not known. `step` and `step_since` follow from the moves. `asks_owner`: the
    owner agrees to an estimate before the bench; None until the diagnosis says. `agreed_total`: what the owner signed
    for at the counter, where the estimate had an amount in every line. `quoted_on`: the day on which nine of ten such
    orders would be ready, as it was worked out when `promised_on` was said. `sheet_before`: the readings of the intake.
    """

    number = models.CharField(max_length=16, unique=True)
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="orders")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, null=True, related_name="orders")
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="orders")
    kind = models.CharField(max_length=16, choices=KINDS)
    complexity = models.CharField(max_length=16, blank=True, choices=SKILLS)
    opened_on = models.DateField()
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    promised_on = models.DateField(null=True)
    quoted_on = models.DateField(null=True)
    step = models.CharField(max_length=16, choices=STEPS, default=Step.LOGGED.value)
    step_since = models.DateTimeField()
    asks_owner = models.BooleanField(null=True)
    agreed_total = models.DecimalField(max_digits=14, decimal_places=2, null=True)
    agreed_currency = models.CharField(max_length=3, blank=True)
    bench = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="bench_orders"
    )
    sheet_before = models.OneToOneField(TimingSheet, on_delete=models.PROTECT, null=True, related_name="order")
    ready_on = models.DateField(null=True)
    closed_on = models.DateField(null=True)

    class Meta:
        indexes = [
            # The orders in the house, a few hundred of all that ever were.
            models.Index(fields=["step", "promised_on"], name="orders_in_the_house", condition=Q(closed_on=None)),
            models.Index(fields=["piece", "-id"], name="orders_of_piece"),
            models.Index(fields=["ready_on"], name="orders_by_ready_day"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["piece"], condition=Q(closed_on=None), name="one_open_order_a_piece"),
            models.CheckConstraint(
                condition=Q(closed_on=None) ^ Q(step=Step.HANDED_BACK.value), name="handed_back_is_closed"
            ),
        ]

    def __str__(self) -> str:
        return self.number


class OrderMove(models.Model):
    """One move of an order: to which step, who, when, and where the piece was then. `reason` for a way back."""

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="moves")
    step = models.CharField(max_length=16, choices=STEPS)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    place = models.CharField(max_length=16, choices=PLACES)
    reason = models.TextField(blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["order", "id"], name="moves_of_order"),
            # What came to the workshop's door today, of all the moves there ever were.
            models.Index(fields=["at"], name="received_by_time", condition=Q(step=Step.RECEIVED.value)),
        ]


class StandardTime(models.Model):
    """The house's own time for one operation, where it differs from common practice."""

    kind = models.CharField(max_length=16, choices=KINDS)
    complexity = models.CharField(max_length=16, choices=SKILLS)
    operation = models.CharField(max_length=16, choices=OPERATIONS)
    minutes = models.PositiveSmallIntegerField()
    wait_hours = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "complexity", "operation"], name="one_time_an_operation")
        ]


class OrderOperation(models.Model):
    """One operation of an order, with the time it was planned with. `unneeded`: why it is not done, where it is not."""

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="operations")
    operation = models.CharField(max_length=16, choices=OPERATIONS)
    position = models.PositiveSmallIntegerField()
    minutes = models.PositiveSmallIntegerField()
    wait_hours = models.PositiveSmallIntegerField()
    finished_at = models.DateTimeField(null=True)
    finished_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    unneeded = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [
            models.Index(
                fields=["operation", "finished_at"], name="operations_finished", condition=~Q(finished_at=None)
            )
        ]
        constraints = [
            models.UniqueConstraint(fields=["order", "operation"], name="an_operation_once_an_order"),
            models.CheckConstraint(condition=Q(finished_at=None) | Q(unneeded=""), name="done_or_not_needed"),
        ]


class TimeSpent(models.Model):
    """Minutes at the bench with one operation. The same form twice is one row."""

    form_key = models.UUIDField(unique=True)
    operation = models.ForeignKey(OrderOperation, on_delete=models.PROTECT, related_name="time")
    minutes = models.PositiveSmallIntegerField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()


class TimeTakenBack(models.Model):
    """Minutes that were written down by a wrong tap: they stay on record, and count no more."""

    time = models.OneToOneField(TimeSpent, on_delete=models.PROTECT, related_name="taken_back")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()


class OrderFinding(models.Model):
    """What was found at the piece, in words, and its cause as the guarantee asks for it.

    `decision`: whether it is covered, as the house's table said then; whoever thinks better of it decides anew.
    """

    form_key = models.UUIDField(unique=True)
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="findings")
    finding = models.CharField(max_length=32, choices=FINDINGS)
    what = models.TextField(blank=True)
    found_at = models.DateTimeField()
    found_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    decision = models.OneToOneField(CoverDecision, on_delete=models.PROTECT, related_name="order_finding")


class OrderEstimate(models.Model):
    """What the work will cost, as the owner is asked. A later one replaces it.

    `lines`: {"what", "price" (decimal text or null), "covered", "because"}; `total` is what the owner pays, in
    `currency` (ISO 4217).
    """

    form_key = models.UUIDField(unique=True)
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="estimates")
    lines = models.JSONField()
    total = models.DecimalField(max_digits=14, decimal_places=2)
    currency = models.CharField(max_length=3)
    valid_until = models.DateField()
    note = models.TextField(blank=True)
    made_on = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["order", "-id"], name="estimates_of_order")]


class EstimateAnswer(models.Model):
    """What the owner said to an estimate, and how it was heard: on their page, or by a member of staff."""

    estimate = models.OneToOneField(OrderEstimate, on_delete=models.PROTECT, related_name="answer")
    agreed = models.BooleanField()
    heard = models.CharField(max_length=16, choices=[(one.value, one.value) for one in Heard])
    heard_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    words = models.TextField(blank=True)
    said_on = models.DateField()
    said_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(heard=Heard.PAGE.value) | Q(heard_by__isnull=False), name="an_answer_was_heard_by_someone"
            )
        ]
