"""The forms of an order's deeds. Each has a prefix of its own, so that several stand on one page."""

from collections.abc import Sequence
from typing import Any
from uuid import uuid4

from django import forms
from django.db.models import Q
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.bench.orders.order_words import CHANNELS, HEARD
from service_center.book.rules import Complexity, EntryKind
from service_center.guarantee.finding_words import names
from service_center.workshop.orders.models import OrderEstimate, WorkOrder
from service_center.workshop.orders.queries.control import unfinished_of
from service_center.workshop.orders.queries.open_orders import planned_times
from service_center.workshop.orders.rules.answers import Heard
from service_center.workshop.orders.rules.operations import Operation, Time
from service_center.workshop.orders.rules.steps import BACK, Step
from service_center.workshop.words import KINDS, OPERATIONS, STEPS

SEVERAL_LINES = forms.Textarea(attrs={"rows": 2})


class DeedForm(forms.Form):
    """A form of one deed: `deed` says which, and is the prefix of its fields."""

    deed = ""
    use_required_attribute = False

    def __init__(self, data: QueryDict | None = None, *, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, prefix=self.deed, initial=initial)


class MoveForm(DeedForm):
    """To the next step. `reason` stands there where only readings lie outside their limits."""

    deed = "move"
    to = forms.ChoiceField(choices=[(one.value, one.value) for one in Step], widget=forms.HiddenInput)
    reason = forms.CharField(
        label=_l("Why it is ready all the same"), required=False, max_length=500, widget=SEVERAL_LINES
    )

    def __init__(self, data: QueryDict | None = None, *, to: Step | None = None, asks_reason: bool = False) -> None:
        super().__init__(data, initial={"to": to.value if to else ""})
        if not asks_reason and not (data and data.get("move-reason")):
            del self.fields["reason"]


class DiagnoseForm(DeedForm):
    """Somebody has looked at the piece, for so many minutes; with those the operation is finished too."""

    deed = "diagnose"
    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    asks_owner = forms.ChoiceField(
        label=_l("Must the owner be asked before the bench?"),
        choices=[("yes", _l("Yes: they get an estimate")), ("no", _l("No: the work begins"))],
        widget=forms.RadioSelect,
    )
    minutes = forms.IntegerField(
        label=_l("Minutes it took"),
        required=False,
        min_value=1,
        max_value=24 * 60,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    def __init__(self, data: QueryDict | None = None, *, suggested: str, planned: int | None = None) -> None:
        super().__init__(data, initial={"asks_owner": suggested, "minutes": planned, "form_key": uuid4()})
        if planned is None:
            del self.fields["minutes"]


class BackForm(DeedForm):
    """Back, with a reason; and which operations are done once more, where it goes back to the bench."""

    deed = "back"
    to = forms.ChoiceField(label=_l("Back to"))
    reason = forms.CharField(label=_l("Reason"), max_length=500, widget=SEVERAL_LINES)
    again = forms.MultipleChoiceField(
        label=_l("Done once more at the bench"), required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, data: QueryDict | None = None, *, step: Step, finished: Sequence[Operation] = ()) -> None:
        ways = [one for one in Step if one in BACK.get(step, frozenset())]
        bench = Step.ON_THE_BENCH if Step.ON_THE_BENCH in ways else ways[0]
        super().__init__(data, initial={"to": bench.value})
        self.fields["to"].choices = [(one.value, STEPS[one]) for one in ways]  # type: ignore[attr-defined]
        if Step.ON_THE_BENCH in ways and finished:
            self.fields["again"].choices = _named(finished)  # type: ignore[attr-defined]
        else:
            del self.fields["again"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("again") and data.get("to") not in (None, Step.ON_THE_BENCH.value):
            self.add_error("again", _("Work is done once more at the bench: send it back there."))
        return data


class KindForm(DeedForm):
    """The piece needs more, or less, than was asked."""

    deed = "kind"
    kind = forms.ChoiceField(label=_l("Make it"))
    why = forms.CharField(label=_l("Why"), max_length=200)

    def __init__(self, data: QueryDict | None = None, *, order: WorkOrder) -> None:
        super().__init__(data)
        others = [(one.value, KINDS[one]) for one in EntryKind if one.value != order.kind]
        self.fields["kind"].choices = others  # type: ignore[attr-defined]


class FinishForm(DeedForm):
    """An operation is finished, in so many minutes."""

    deed = "finish"
    form_key = forms.UUIDField(widget=forms.HiddenInput)
    operation = forms.ChoiceField(label=_l("Finished"))
    minutes = forms.IntegerField(
        label=_l("Minutes it took"),
        min_value=1,
        max_value=24 * 60,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    def __init__(self, data: QueryDict | None = None, *, operations: Sequence[Operation]) -> None:
        super().__init__(data, initial={"form_key": uuid4()})
        self.fields["operation"].choices = _named(operations)  # type: ignore[attr-defined]


class TakeBackForm(DeedForm):
    """An operation was called finished by mistake."""

    deed = "take_back"
    operation = forms.ChoiceField(label=_l("Not finished after all"))

    def __init__(self, data: QueryDict | None = None, *, operations: Sequence[Operation]) -> None:
        super().__init__(data)
        self.fields["operation"].choices = _named(operations)  # type: ignore[attr-defined]


class HandOverForm(DeedForm):
    """The order is laid onto another bench; whose page it is stands first."""

    deed = "hand_over"
    to = forms.ModelChoiceField(label=_l("To the bench of"), queryset=Staff.objects.none(), empty_label=None)

    def __init__(self, data: QueryDict | None = None, *, order: WorkOrder, by: Staff) -> None:
        super().__init__(data, initial={"to": by.pk})
        here = Q(role=Role.WATCHMAKER.value, is_active=True) | Q(pk=by.pk)
        others = (
            Staff.objects.filter(here).exclude(pk=order.bench_id or 0).order_by("first_name", "last_name", "username")
        )
        self.fields["to"].queryset = others  # type: ignore[attr-defined]
        self.fields["to"].label_from_instance = lambda one: one.get_full_name() or one.username  # type: ignore[attr-defined]

    def has_benches(self) -> bool:
        """Whether there is another bench at all. One statement."""
        return bool(self.fields["to"].queryset.exists())  # type: ignore[attr-defined]


class LeaveOutForm(DeedForm):
    """An operation is not needed at this piece."""

    deed = "leave_out"
    operation = forms.ChoiceField(label=_l("Not needed"))
    why = forms.CharField(label=_l("Why"), max_length=200)

    def __init__(self, data: QueryDict | None = None, *, order: WorkOrder) -> None:
        super().__init__(data)
        self.fields["operation"].choices = _named(unfinished_of(order))  # type: ignore[attr-defined]


class AddForm(DeedForm):
    """An operation that is needed too, or once more. Empty minutes: as the house plans it."""

    deed = "add"
    operation = forms.ChoiceField(label=_l("Add, or do again"))
    minutes = forms.IntegerField(
        label=_l("Planned minutes"), help_text=_l("Empty: as the house plans it."), required=False, min_value=1,
        max_value=9_999, widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    why = forms.CharField(label=_l("Why"), max_length=200)

    def __init__(self, data: QueryDict | None = None, *, order: WorkOrder) -> None:
        super().__init__(data)
        left = set(unfinished_of(order))
        self.order = order
        self.fields["operation"].choices = _named([one for one in Operation if one not in left])  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if "operation" in data and not data.get("minutes") and "minutes" not in self.errors and self._usual() is None:
            self.add_error("minutes", _("The house plans none for this kind of order: say how many."))
        return data

    def time(self) -> Time:
        """The time it is planned with."""
        usual = self._usual()
        minutes = self.cleaned_data["minutes"] or (usual.minutes if usual else 0)
        return Time(minutes, usual.wait_hours if usual else 0)

    def _usual(self) -> Time | None:
        complexity = Complexity(self.order.complexity) if self.order.complexity else None
        times = planned_times(EntryKind(self.order.kind), complexity, rated=True)
        return times.get(Operation(self.cleaned_data["operation"]))


class FindingForm(DeedForm):
    """What was found, its cause as the guarantee asks for it."""

    deed = "finding"
    form_key = forms.UUIDField(widget=forms.HiddenInput)
    finding = forms.ChoiceField(label=_l("What was found"))
    what = forms.CharField(label=_l("In words"), required=False, max_length=2000, widget=SEVERAL_LINES)

    def __init__(self, data: QueryDict | None = None) -> None:
        super().__init__(data, initial={"form_key": uuid4()})
        self.fields["finding"].choices = [("", "…"), *((one.value, name) for one, name in names().items())]  # type: ignore[attr-defined]


class AnswerForm(DeedForm):
    """What the owner said to the estimate, heard by a member of staff."""

    deed = "answer"
    estimate = forms.IntegerField(widget=forms.HiddenInput)
    agreed = forms.ChoiceField(
        label=_l("The owner"),
        choices=[("yes", _l("agrees")), ("no", _l("declines"))],
        widget=forms.RadioSelect,
    )
    heard = forms.ChoiceField(
        label=_l("Heard"), choices=[(key, word) for key, word in HEARD.items() if key != Heard.PAGE]
    )
    words = forms.CharField(label=_l("In their words"), required=False, max_length=2000, widget=SEVERAL_LINES)

    def __init__(self, data: QueryDict | None = None, *, estimate: OrderEstimate) -> None:
        super().__init__(data, initial={"estimate": estimate.pk})


class ToldForm(DeedForm):
    """The owner was told otherwise than by mail."""

    deed = "told"
    channel = forms.ChoiceField(label=_l("Told"), choices=list(CHANNELS.items()))
    note = forms.CharField(label=_l("Note"), required=False, max_length=500)


class BringForm(DeedForm):
    """The piece is back at its boutique."""

    deed = "bring"


class HandBackForm(DeedForm):
    """The piece goes to its owner."""

    deed = "hand_back"
    note = forms.CharField(label=_l("Note for the history"), required=False, max_length=2000, widget=SEVERAL_LINES)


def _named(operations: Sequence[Operation]) -> list[tuple[str, Any]]:
    return [(one.value, OPERATIONS[one]) for one in operations]
