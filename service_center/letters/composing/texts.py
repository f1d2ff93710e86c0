"""Our texts of every letter, which a house may put its own in place of (design/letters.md, what a letter is).

English here, translated in service_center/locale. The names in braces are the trade's: what each stands for is told
to staff by wording/words.py.
"""

from functools import cache

from django.utils import translation
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from service_center.letters.rules.wording import Slot, flaws_of

ABOUT_ONE = frozenset({"owner", "piece", "serial", "house"})
ABOUT_SEVERAL = frozenset({"owner", "pieces", "count", "house"})
ABOUT_RECEIPT = frozenset({"owner", "piece", "serial", "number", "day", "boutique", "house"})
ABOUT_ORDER = frozenset({"owner", "piece", "serial", "number", "day", "boutique", "total", "house"})
ABOUT_VISIT = frozenset({"owner", "boutique", "day", "time", "house"})
DAY = frozenset({"day"})
DAYS = frozenset({"days"})
SUBJECT, PARAGRAPHS = 150, 2_000


def _subject(code: str, ours: str, may: frozenset[str], must: frozenset[str] = frozenset()) -> Slot:
    return Slot(f"{code}.subject", ours, may, must, most=SUBJECT)


def _opening(code: str, ours: str, may: frozenset[str], must: frozenset[str] = frozenset()) -> Slot:
    return Slot(f"{code}.opening", ours, may, must, one_line=False, most=PARAGRAPHS)


def _why(code: str, ours: str) -> Slot:
    return Slot(f"why.{code}", ours, DAY | {"piece"}, DAY)


_OVERHAUL_DUE = _("Your {piece}: time for an overhaul")
_TIGHTNESS_DUE = _("Your {piece}: time for a tightness check")
_ONE_DUE = _("A watch of yours is due for its care, so that it keeps good time and keeps water out for many years.")
_ONE_STILL_DUE = _("We wrote to you about a watch of yours. It is still due, and we would gladly look after it.")

_ALL = [
    # kind and step
    _subject("overhaul.invitation", _OVERHAUL_DUE, ABOUT_ONE),
    _opening("overhaul.invitation", _ONE_DUE, ABOUT_ONE),
    _subject("overhaul.nudge", _OVERHAUL_DUE, ABOUT_ONE),
    _opening("overhaul.nudge", _ONE_STILL_DUE, ABOUT_ONE),
    _subject("overhaul.last", _("Your {piece}: our last letter about its overhaul"), ABOUT_ONE),
    _opening(
        "overhaul.last",
        _(
            "We wrote to you about the overhaul of a watch of yours. It is overdue now, and its movement wears when its "
            "oils are old. This is our last letter about it; you are welcome whenever it suits you."
        ),
        ABOUT_ONE,
    ),
    _subject("tightness.invitation", _TIGHTNESS_DUE, ABOUT_ONE),
    _opening("tightness.invitation", _ONE_DUE, ABOUT_ONE),
    _subject("tightness.nudge", _TIGHTNESS_DUE, ABOUT_ONE),
    _opening("tightness.nudge", _ONE_STILL_DUE, ABOUT_ONE),
    _subject("tightness.yearly", _("Your {piece}: its yearly tightness check"), ABOUT_ONE),
    _opening(
        "tightness.yearly",
        _(
            "Once a year we remind you of the tightness check of a watch of yours. It has not been done yet, and nobody "
            "can see from outside whether a case still keeps water out."
        ),
        ABOUT_ONE,
    ),
    _subject("several.invitation", _("Care for your {count} watches is due"), ABOUT_SEVERAL),
    _opening(
        "several.invitation",
        _("Watches of yours are due for their care, so that they keep good time and keep water out for many years."),
        ABOUT_SEVERAL,
    ),
    _subject("several.nudge", _("Care for your {count} watches is due"), ABOUT_SEVERAL),
    _opening(
        "several.nudge",
        _("We wrote to you about watches of yours. They are still due, and we would gladly look after them."),
        ABOUT_SEVERAL,
    ),
    _subject("several.last", _("Your {count} watches: our last letter about their overhaul"), ABOUT_SEVERAL),
    _opening(
        "several.last",
        _(
            "We wrote to you about the overhaul of watches of yours. They are overdue now, and a movement wears when its "
            "oils are old. This is our last letter about them; you are welcome whenever it suits you."
        ),
        ABOUT_SEVERAL,
    ),
    # why now
    _why("since.overhaul", _("Its last overhaul was on {day}.")),
    _why("since.sale", _("It was sold on {day}.")),
    _why("since.making", _("It was made on {day}.")),
    _why("since.pass", _("Its case last passed the tightness test on {day}.")),
    _why("since.shelf.overhaul", _("It was in stock for long, so its oils count from {day}.")),
    _why("since.shelf.tightness", _("It was in stock for long, so its gaskets count from {day}.")),
    _why("ahead.overhaul", _("We recommend an overhaul by {day}, because oils age.")),
    _why("past.overhaul", _("We recommended an overhaul by {day}, because oils age.")),
    _why("ahead.tightness", _("We recommend a check by {day}, because gaskets age.")),
    _why("past.tightness", _("We recommended a check by {day}, because gaskets age.")),
    _why("owed.failed", _("Its case did not pass the tightness test on {day}.")),
    _why("owed.opened", _("Its case was opened on {day}, and no tightness test is known since.")),
    _why(
        "measured.reading",
        _("When we measured it on {day}, its movement fell short of our limits: the overhaul should not wait."),
    ),
    _why(
        "measured.trend",
        _("Our measurements show its oils ageing sooner than usual: we recommend an overhaul by {day}."),
    ),
    _why(
        "measured.trend.past",
        _("Our measurements show its oils ageing sooner than usual: we recommended an overhaul by {day}."),
    ),
    Slot("why.caution", _("Until it has passed the test, please keep it away from water.")),
    # what it takes, and where to
    Slot("takes.overhaul", _("The overhaul takes about {days} days in our workshop."), DAYS, DAYS),
    Slot("takes.included", _("It includes the tightness check.")),
    Slot("takes.tightness", _("The check takes about {days} days."), DAYS, DAYS),
    Slot("takes.guarantee", _("Its guarantee runs to {day}; care that falls due is not part of it."), DAY, DAY),
    Slot(
        "takes.guarantee_work",
        _("The guarantee on our work runs to {day}; care that falls due is not part of it."),
        DAY,
        DAY,
    ),
    Slot(
        "takes.guarantee_extension",
        _("Its extended guarantee runs to {day}; care that falls due is not part of it."),
        DAY,
        DAY,
    ),
    Slot("takes.guarantee_check", _("Until {day} the check is part of the guarantee."), DAY, DAY),
    Slot(
        "where.near",
        _("Please bring it to {boutique}. In your country you can also bring it to: {boutiques}."),
        frozenset({"boutique", "boutiques"}),
        frozenset({"boutique", "boutiques"}),
    ),
    Slot("where.only", _("Please bring it to {boutique}."), frozenset({"boutique"}), frozenset({"boutique"})),
    Slot(
        "where.country",
        _("Please bring it to one of our boutiques in your country: {boutiques}."),
        frozenset({"boutiques"}),
        frozenset({"boutiques"}),
    ),
    Slot(
        "where.boutique",
        _("Please bring it to {boutique}, or to any of our boutiques."),
        frozenset({"boutique"}),
        frozenset({"boutique"}),
    ),
    Slot("where.any", _("Please bring it to any of our boutiques.")),
    # around every letter
    Slot("frame.greeting", _("Dear {owner},"), frozenset({"owner"}), frozenset({"owner"})),
    Slot("frame.greeting_unnamed", _("Good day,")),
    Slot("frame.overhaul", _("Overhaul"), most=60),
    Slot("frame.tightness", _("Tightness check"), most=60),
    Slot("frame.button", _("Book a visit or answer"), most=60),
    Slot("frame.link", _("Book a visit or tell us otherwise here:")),
    Slot(
        "frame.closing",
        _("With kind regards,\nthe service desk of {house}"),
        frozenset({"house"}),
        one_line=False,
        most=PARAGRAPHS,
    ),
    Slot(
        "frame.reason",
        _("You get this letter about the care of your watches as a customer of {house}, or because you asked for it."),
        frozenset({"house"}),
        most=600,
    ),
    Slot("frame.stop", _("No more letters"), most=60),
    Slot("frame.stop_link", _("No more letters:")),
    # a visit that is booked, moved or cancelled
    _subject("visit.booked", _("Your visit on {day} at {time}"), ABOUT_VISIT, DAY),
    _opening(
        "visit.booked",
        _("Your visit is booked: {day}, {time}, {boutique}. We look forward to seeing you."),
        ABOUT_VISIT,
        frozenset({"day", "time", "boutique"}),
    ),
    _subject("visit.moved", _("Your visit is now on {day} at {time}"), ABOUT_VISIT, DAY),
    _opening(
        "visit.moved",
        _("Your visit has changed: it is now on {day}, {time}, {boutique}. We look forward to seeing you."),
        ABOUT_VISIT,
        frozenset({"day", "time", "boutique"}),
    ),
    _subject("visit.cancelled", _("Your visit on {day} is cancelled"), ABOUT_VISIT, DAY),
    _opening(
        "visit.cancelled",
        _("Your visit on {day}, {time}, {boutique} is cancelled. You can book another one at any time."),
        ABOUT_VISIT,
        frozenset({"day", "time", "boutique"}),
    ),
    Slot("visit.bring", _("You bring:")),
    Slot("visit.calendar", _("The visit is attached as an entry for your calendar.")),
    Slot("visit.calendar_off", _("The attached entry takes it out of your calendar.")),
    Slot("visit.button", _("See, move or cancel the visit"), most=60),
    Slot("visit.link", _("See, move or cancel the visit here:")),
    Slot("visit.button_off", _("Book another visit"), most=60),
    Slot("visit.link_off", _("Book another visit here:")),
    Slot(
        "visit.reason",
        _("You get this letter because you booked a visit with {house}."),
        frozenset({"house"}),
        most=600,
    ),
    # the receipt of a drop-off
    _subject("receipt", _("Your receipt {number}: {piece}"), ABOUT_RECEIPT, frozenset({"number"})),
    _opening(
        "receipt",
        _("On {day} you left a watch with us: {piece}, {serial}, at {boutique}. Your receipt {number} is attached."),
        ABOUT_RECEIPT,
        frozenset({"number", "day"}),
    ),
    Slot("receipt.signed", _("Beside it is the very text that was signed.")),
    Slot("receipt.keep", _("Please keep the receipt until you have your watch back.")),
    Slot(
        "receipt.reason",
        _("You get this letter because you left a watch with {house}."),
        frozenset({"house"}),
        most=600,
    ),
    # word about an order in the house
    _subject("order.estimate", _("The estimate for your {piece} is ready"), ABOUT_ORDER, frozenset({"piece"})),
    _opening(
        "order.estimate",
        _(
            "We have looked at your watch: {piece}, {serial}. What its care would cost you is {total}; the estimate is "
            "attached and holds until {day}. We begin when you agree."
        ),
        ABOUT_ORDER,
        frozenset({"total", "day"}),
    ),
    Slot("order.estimate.button", _("Agree or decline"), most=60),
    Slot("order.estimate.link", _("Agree or decline here:")),
    _subject("order.ready", _("Your {piece} is ready"), ABOUT_ORDER, frozenset({"piece"})),
    _opening(
        "order.ready",
        _(
            "Your watch is ready: {piece}, {serial}. You can fetch it at {boutique}. Please bring your receipt {number}."
        ),
        ABOUT_ORDER,
        frozenset({"boutique"}),
    ),
    Slot("order.ready.button", _("See your watch's page"), most=60),
    Slot("order.ready.link", _("See your watch's page here:")),
    Slot(
        "order.reason",
        _("You get this letter because a watch of yours is with {house}."),
        frozenset({"house"}),
        most=600,
    ),
]
SLOTS = {slot.code: slot for slot in _ALL}


@cache
def our_text(code: str, language: str) -> str:
    """Our text in a language; the English one where a translation is missing or cannot be used, never a blank."""
    slot = SLOTS[code]
    with translation.override(language):
        text = gettext(slot.ours)
    return slot.ours if flaws_of(text, slot) else text
