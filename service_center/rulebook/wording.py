"""Rules in the words that staff read."""

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from service_center.book.rules import ServiceKind, Use
from service_center.intervals.queries.foreseen import Moves
from service_center.intervals.rules import Rule, Scope
from service_center.intervals.rules.rulebook import ALWAYS, Standing

KINDS = {ServiceKind.OVERHAUL: gettext_lazy("Overhaul"), ServiceKind.TIGHTNESS: gettext_lazy("Tightness check")}
SCOPES = {
    Scope.HOUSE: gettext_lazy("The whole house"),
    Scope.CALIBRE: gettext_lazy("A calibre"),
    Scope.MODEL: gettext_lazy("A model"),
    Scope.PIECE: gettext_lazy("One piece"),
}
USES = {
    None: gettext_lazy("any use"),
    Use.EVERYDAY: gettext_lazy("worn every day"),
    Use.IN_WATER: gettext_lazy("worn in water"),
}
USE_CHOICES = {
    None: gettext_lazy("Any use"),
    Use.EVERYDAY: gettext_lazy("Worn every day"),
    Use.IN_WATER: gettext_lazy("Worn in water"),
}
# The word, and the mark of a state that has the same weight.
STANDINGS = {
    Standing.IN_FORCE: (gettext_lazy("In force"), "done"),
    Standing.RUNNING: (gettext_lazy("Running intervals only"), "in_window"),
    Standing.ENDED: (gettext_lazy("Ended"), "ended"),
    Standing.TO_COME: (gettext_lazy("To come"), "waiting"),
}
DEEDS = {
    "add_rule": gettext_lazy("added"),
    "follow_rule": gettext_lazy("ended"),
    "take_back_rule": gettext_lazy("taken back"),
    "import_book": gettext_lazy("brought from a file"),
}


def whom(rule: Rule) -> str:
    """For which pieces it speaks."""
    match rule.scope:
        case Scope.HOUSE:
            return _("The whole house")
        case Scope.CALIBRE:
            return _("Calibre %(value)s") % {"value": rule.scope_value}
        case Scope.MODEL:
            return _("Model %(value)s") % {"value": rule.scope_value}
        case Scope.PIECE:
            return _("Piece %(value)s") % {"value": rule.scope_value}


def since(day: date) -> str:
    """From which day it is in force."""
    return _("always") if day <= ALWAYS else date_format(day, "j M Y")


def sentence(rule: Rule) -> str:
    """A rule in one line."""
    running = _("running intervals too") if rule.covers_running else _("new intervals only")
    return _(
        "%(kind)s, %(whom)s, %(use)s: %(opens)s / %(due)s / %(closes)s months, in force %(since)s, %(running)s"
    ) % {
        "kind": KINDS[rule.kind],
        "whom": whom(rule),
        "use": USES[rule.use],
        "opens": rule.opens,
        "due": rule.due,
        "closes": rule.closes,
        "since": since(rule.in_force_from)
        if rule.in_force_from <= ALWAYS
        else _("from %s") % since(rule.in_force_from),
        "running": running,
    }


def months_moved(months: int) -> str:
    """By how much, and which way."""
    if months < 0:
        return ngettext("%s month earlier", "%s months earlier", -months) % -months
    if months > 0:
        return ngettext("%s month later", "%s months later", months) % months
    return _("less than half a month")


def spread(earlier: Moves, later: Moves) -> str:
    """By how many months due days move, at least, in the middle and at most; empty where one number says it all."""
    said = []
    if earlier.count and earlier.smallest < earlier.largest:
        said.append(_("Earlier by %(least)s to %(most)s months, the middle one by %(middle)s.") % _ends(earlier))
    if later.count and later.smallest < later.largest:
        said.append(_("Later by %(least)s to %(most)s months, the middle one by %(middle)s.") % _ends(later))
    return " ".join(said)


def _ends(moves: Moves) -> dict[str, int]:
    return {"least": moves.smallest, "middle": moves.median, "most": moves.largest}


def equal_rule(other: Rule) -> str:
    """Why a rule cannot be saved beside another."""
    return _(
        "Rule %(code)s has the same kind, scope, use and day in force (%(rule)s). Two equal rules cannot both be right: "
        "choose another day, or take that one back first."
    ) % {"code": other.code, "rule": sentence(other)}
