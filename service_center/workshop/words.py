"""Words of the workshop: kinds of order, steps, operations, skills."""

from django.utils.translation import gettext_lazy as _

from service_center.book.rules import Complexity, EntryKind
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.orders.rules.steps import Step

KINDS = {
    EntryKind.OVERHAUL: _("Overhaul"),
    EntryKind.REPAIR: _("Repair"),
    EntryKind.TIGHTNESS_CHECK: _("Tightness check"),
    EntryKind.BATTERY: _("Battery"),
    EntryKind.STRAP: _("Strap"),
}

SKILLS = {
    Complexity.SIMPLE.value: _("Simple"),
    Complexity.AUTOMATIC.value: _("Automatic"),
    Complexity.CHRONOGRAPH.value: _("Chronograph"),
    Complexity.COMPLICATED.value: _("Complicated"),
}

OPERATIONS = {
    Operation.DIAGNOSIS: _("Reception and diagnosis"),
    Operation.UNCASING: _("Uncasing"),
    Operation.DISMANTLING: _("Dismantling"),
    Operation.CLEANING: _("Cleaning"),
    Operation.ASSEMBLY: _("Assembly and lubrication"),
    Operation.REGULATION: _("Regulation"),
    Operation.DIAL_AND_HANDS: _("Dial and hands"),
    Operation.CELL: _("Exchange of the cell"),
    Operation.CASING: _("Casing"),
    Operation.REFINISHING: _("Refinishing"),
    Operation.STRAP: _("Strap or bracelet"),
    Operation.TIGHTNESS_TESTS: _("Tightness tests"),
    Operation.FINAL_CONTROL: _("Final control"),
}

STEPS = {
    Step.LOGGED: _("Logged at the boutique"),
    Step.RECEIVED: _("Received at the workshop"),
    Step.DIAGNOSED: _("Diagnosed"),
    Step.ESTIMATED: _("The owner is asked"),
    Step.AGREED: _("The owner agreed"),
    Step.DECLINED: _("The owner declined"),
    Step.ON_THE_BENCH: _("On the bench"),
    Step.UNDER_CONTROL: _("Under control"),
    Step.READY: _("Ready"),
    Step.HANDED_BACK: _("Handed back"),
}
