"""What can be done with an order from where it stands, by whom; and doing it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.http import QueryDict
from django.utils.translation import gettext as _

from service_center.access.models import Staff
from service_center.access.rules import EVERYONE, WORK, Role
from service_center.bench.orders import order_forms as forms
from service_center.bench.orders import telling
from service_center.bench.orders.actions import hand_back_order
from service_center.bench.orders.page import EstimateRow, FindingRow
from service_center.bench.orders.work import OperationRow, left_here
from service_center.book.rules import EntryKind, Place
from service_center.guarantee.rules import Finding
from service_center.letters.rules.words import Channel, OrderNews
from service_center.workshop.orders import actions
from service_center.workshop.orders.models import OrderEstimate, WorkOrder
from service_center.workshop.orders.rules.answers import Heard
from service_center.workshop.orders.rules.asking import is_to_be_asked
from service_center.workshop.orders.rules.control import Missing, only_limits
from service_center.workshop.orders.rules.operations import AT_RECEPTION, Operation, Time
from service_center.workshop.orders.rules.steps import BACK, Standing, Step, next_step
from service_center.workshop.words import STEPS

# What the counter does as well; a strap is changed there whole.
AT_THE_COUNTER = frozenset({"bring", "hand_back", "answer", "told"})
OF_A_STRAP = AT_THE_COUNTER | {"move", "finish", "take_back", "leave_out"}
BY_THE_BUTTON = frozenset({Step.RECEIVED, Step.ON_THE_BENCH, Step.UNDER_CONTROL, Step.READY})


@dataclass(frozen=True, slots=True)
class Doing:
    """Who does something, at which moment and on which day."""

    by: Staff
    at: datetime
    on: date


@dataclass(frozen=True, slots=True)
class Shown:
    """What the page has read of the order, on which its deeds depend."""

    standing: Standing
    operations: Sequence[OperationRow]
    findings: Sequence[FindingRow]
    estimates: Sequence[EstimateRow]
    lacks: Sequence[Missing]
    to_tell: OrderNews | None


def may_do(deed: str, order: WorkOrder, staff: Staff) -> bool:
    """Whether a member of staff does this at all; whether the order allows it now is another matter."""
    counter = OF_A_STRAP if order.kind == EntryKind.STRAP else AT_THE_COUNTER
    return Role(staff.role) in (EVERYONE if deed in counter else WORK)


def deeds_for(
    order: WorkOrder, shown: Shown, staff: Staff, *, sent: QueryDict | None = None, deed: str = ""
) -> dict[str, forms.DeedForm]:
    """The forms of what can be done now, by name. `sent` fills the form of `deed`, so that nothing typed is lost."""
    made = _made(order, shown, staff, deed, sent)
    return {name: form for name, form in made.items() if may_do(name, order, staff)}


def _made(order: WorkOrder, shown: Shown, staff: Staff, deed: str, sent: QueryDict | None) -> dict[str, forms.DeedForm]:
    def given(name: str) -> QueryDict | None:
        return sent if name == deed else None

    step, found = shown.standing.step, dict[str, forms.DeedForm]()
    if step is Step.HANDED_BACK:
        return {}
    following = next_step(shown.standing)
    # The control begins when the bench has done its part: from there nothing but a way back would let it be done.
    holds = following is Step.UNDER_CONTROL and left_here(shown.standing, shown.operations)
    if following in BY_THE_BUTTON and not holds:
        asks = following is Step.READY and only_limits(shown.lacks)
        found["move"] = forms.MoveForm(given("move"), to=following, asks_reason=asks)
    if step is Step.RECEIVED:
        planned = next((one.line.minutes for one in shown.operations if _is_diagnosis(one)), None)
        found["diagnose"] = forms.DiagnoseForm(given("diagnose"), suggested=_suggested(order, shown), planned=planned)
    latest = shown.estimates[0].estimate if shown.estimates else None
    if step is Step.ESTIMATED and latest:
        found["answer"] = forms.AnswerForm(given("answer"), estimate=latest)
    if shown.to_tell:
        found["told"] = forms.ToldForm(given("told"))
    if step is Step.READY:
        if order.piece.place != Place.BOUTIQUE:
            found["bring"] = forms.BringForm(given("bring"))
        found["hand_back"] = forms.HandBackForm(given("hand_back"))
    return found | _between_benches(order, step, staff, given) | _of_the_work(order, shown, given)


def _between_benches(
    order: WorkOrder, step: Step, staff: Staff, given: Callable[[str], QueryDict | None]
) -> dict[str, forms.DeedForm]:
    """Handing over, where there is a bench to hand it to."""
    if step is not Step.ON_THE_BENCH:
        return {}
    over = forms.HandOverForm(given("hand_over"), order=order, by=staff)
    return {"hand_over": over} if over.has_benches() else {}


def _is_at_reception(row: OperationRow) -> bool:
    return row.operation in AT_RECEPTION


def _is_diagnosis(row: OperationRow) -> bool:
    return row.operation is Operation.DIAGNOSIS and row.is_left


def _of_the_work(order: WorkOrder, shown: Shown, given: Callable[[str], QueryDict | None]) -> dict[str, forms.DeedForm]:
    """What can be done beside the way itself."""
    step, found = shown.standing.step, dict[str, forms.DeedForm]()
    if step in BACK:
        finished = [row.operation for row in shown.operations if row.line.finished_at and not _is_at_reception(row)]
        found["back"] = forms.BackForm(given("back"), step=step, finished=finished)
    if step is Step.READY:
        return found
    can_finish = [row.operation for row in shown.operations if row.can_finish]
    if can_finish:
        found["finish"] = forms.FinishForm(given("finish"), operations=can_finish)
    can_take_back = [row.operation for row in shown.operations if row.can_take_back]
    if can_take_back:
        found["take_back"] = forms.TakeBackForm(given("take_back"), operations=can_take_back)
    if any(row.is_left for row in shown.operations):
        found["leave_out"] = forms.LeaveOutForm(given("leave_out"), order=order)
    found["add"] = forms.AddForm(given("add"), order=order)
    found["kind"] = forms.KindForm(given("kind"), order=order)
    if step is not Step.LOGGED:
        found["finding"] = forms.FindingForm(given("finding"))
    return found


def _suggested(order: WorkOrder, shown: Shown) -> str:
    signed = order.agreed_total is not None
    return "yes" if is_to_be_asked(signed_for_all=signed, covered=[one.covered for one in shown.findings]) else "no"


def do(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    """Do what a checked form asks for, and say in one sentence what was done. Raises what refuses it (REFUSED)."""
    return _DOING[form.deed](order, form, doing)


def _move(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    to = Step(form.cleaned_data["to"])
    if to is Step.ON_THE_BENCH:
        actions.take_to_bench(order, at=doing.at, on=doing.on, by=doing.by)
    else:
        reason = form.cleaned_data.get("reason", "")
        telling.move_on(order, to, on=doing.on, at=doing.at, by=doing.by, reason=reason)
    return _("Now: %(step)s.") % {"step": str(STEPS[to])}


def _diagnose(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    asks = form.cleaned_data["asks_owner"] == "yes"
    minutes, key = form.cleaned_data.get("minutes"), form.cleaned_data.get("form_key")
    with transaction.atomic():
        telling.move_on(order, Step.DIAGNOSED, on=doing.on, at=doing.at, by=doing.by, asks_owner=asks)
        if minutes and key:
            actions.finish_operation(
                order, Operation.DIAGNOSIS, minutes=minutes, at=doing.at, by=doing.by, form_key=key
            )
    if asks:
        return _("Looked at. Write the estimate next: the owner is asked by it.")
    return _("Looked at. It can go to the bench.")


def _back(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    to = Step(form.cleaned_data["to"])
    asks = order.asks_owner if to is Step.DIAGNOSED else None
    reason = form.cleaned_data["reason"]
    with transaction.atomic():
        telling.move_on(order, to, on=doing.on, at=doing.at, by=doing.by, reason=reason, asks_owner=asks)
        for one in order.operations.filter(operation__in=form.cleaned_data.get("again", [])):
            again = Time(one.minutes, one.wait_hours)
            actions.add_operation(order, Operation(one.operation), again, why=reason, by=doing.by)
    return _("Back: %(step)s.") % {"step": str(STEPS[to])}


def _kind(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    kind = EntryKind(form.cleaned_data["kind"])
    actions.change_kind(order, kind, why=form.cleaned_data["why"], by=doing.by)
    return _("The order is of another kind now, and its operations follow.")


def _finish(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    said = form.cleaned_data
    operation = Operation(said["operation"])
    actions.finish_operation(
        order, operation, minutes=said["minutes"], at=doing.at, by=doing.by, form_key=said["form_key"]
    )
    return _("Finished, and the minutes are kept.")


def _take_back(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    actions.take_back_operation(order, Operation(form.cleaned_data["operation"]), at=doing.at, by=doing.by)
    return _("Taken back: it is to do again, and its minutes count no more.")


def _hand_over(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    to = form.cleaned_data["to"]
    actions.hand_over(order, to, by=doing.by)
    return _("It lies on the bench of %(name)s now.") % {"name": to.get_full_name() or to.username}


def _leave_out(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    operation = Operation(form.cleaned_data["operation"])
    actions.leave_out_operation(order, operation, why=form.cleaned_data["why"], by=doing.by)
    return _("It is left out, and why is kept.")


def _add(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    assert isinstance(form, forms.AddForm)
    operation = Operation(form.cleaned_data["operation"])
    actions.add_operation(order, operation, form.time(), why=form.cleaned_data["why"], by=doing.by)
    return _("It is among the operations now.")


def _finding(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    said = form.cleaned_data
    kept = actions.add_finding(
        order,
        Finding(said["finding"]),
        what=said["what"],
        country=(order.owner.country if order.owner else "") or order.boutique.country,
        on=doing.on,
        at=doing.at,
        by=doing.by,
        form_key=said["form_key"],
    )
    if kept.decision.covered:
        return _("Kept. The guarantee pays for it.")
    return _("Kept. The owner pays for it, unless somebody decides otherwise.")


def _answer(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    said = form.cleaned_data
    estimate = OrderEstimate.objects.filter(order=order, pk=said["estimate"]).select_related("order").first()
    if estimate is None:
        raise actions.NotAsked(order.number)
    agreed = said["agreed"] == "yes"
    telling.hear_answer(
        estimate,
        agreed=agreed,
        heard=Heard(said["heard"]),
        heard_by=doing.by,
        on=doing.on,
        at=doing.at,
        words=said["words"],
    )
    return _("The owner agreed; it can go to the bench.") if agreed else _("The owner declined.")


def _told(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    channel = Channel(form.cleaned_data["channel"])
    telling.note_told(order, channel, on=doing.on, now=doing.at, note=form.cleaned_data["note"], by=doing.by)
    return _("Written down: the owner was told.")


def _bring(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    telling.bring_back(order, on=doing.on, at=doing.at, by=doing.by)
    return _("It is back at the boutique.")


def _hand_back(order: WorkOrder, form: forms.DeedForm, doing: Doing) -> str:
    hand_back_order(order, on=doing.on, at=doing.at, by=doing.by, as_of=doing.on, note=form.cleaned_data["note"])
    return _("The piece is with its owner, the order is closed, and its new interval has begun.")


_DOING: dict[str, Callable[[WorkOrder, forms.DeedForm, Doing], str]] = {
    "move": _move,
    "diagnose": _diagnose,
    "back": _back,
    "kind": _kind,
    "finish": _finish,
    "take_back": _take_back,
    "hand_over": _hand_over,
    "leave_out": _leave_out,
    "add": _add,
    "finding": _finding,
    "answer": _answer,
    "told": _told,
    "bring": _bring,
    "hand_back": _hand_back,
}
DEEDS = frozenset(_DOING)
