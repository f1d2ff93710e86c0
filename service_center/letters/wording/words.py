"""How staff read the texts of letters: where each stands, what its names stand for, and what is wrong with one."""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from service_center.letters.composing.texts import SLOTS
from service_center.letters.rules.wording import Flaw, Found

Words = str | Promise

PLACEHOLDERS: dict[str, Words] = {
    "owner": _("the owner's name"),
    "piece": _("the piece's name"),
    "serial": _("the piece's serial number"),
    "pieces": _("the pieces by name"),
    "count": _("how many pieces"),
    "house": _("the house's name"),
    "day": _("the day in question, written out"),
    "days": _("how many days it takes"),
    "time": _("the time of the visit"),
    "boutique": _("the boutique's name"),
    "boutiques": _("the boutiques of the owner's country by name"),
    "number": _("the receipt's number"),
    "total": _("what the owner would pay"),
}


@dataclass(frozen=True, slots=True)
class Group:
    """Texts that are edited together. `letter`: the letter that shows them best."""

    slug: str
    label: Words
    codes: tuple[str, ...]
    letter: str


LETTERS: dict[str, Words] = {
    "overhaul.invitation": _("Overhaul, first letter"),
    "overhaul.nudge": _("Overhaul, second letter"),
    "overhaul.last": _("Overhaul, last letter"),
    "tightness.invitation": _("Tightness check, first letter"),
    "tightness.nudge": _("Tightness check, second letter"),
    "tightness.yearly": _("Tightness check, each year"),
    "several.invitation": _("Several pieces, first letter"),
    "several.nudge": _("Several pieces, second letter"),
    "several.last": _("Several pieces, last letter"),
}
VISITS: dict[str, Words] = {
    "visit.booked": _("A visit was booked"),
    "visit.moved": _("A visit was moved"),
    "visit.cancelled": _("A visit was cancelled"),
}
RECEIPT: dict[str, Words] = {"receipt": _("Receipt of a drop-off")}
ORDERS: dict[str, Words] = {
    "order.estimate": _("An estimate is ready"),
    "order.ready": _("A piece can be fetched"),
}
_SUBJECT_AND_OPENING: tuple[tuple[str, Words], ...] = (("subject", _("Subject")), ("opening", _("First sentences")))
LABELS: dict[str, Words] = {
    **{
        f"{case}.{part}": label
        for case in [*LETTERS, *VISITS, *RECEIPT, *ORDERS]
        for part, label in _SUBJECT_AND_OPENING
    },
    "why.since.overhaul": _("Counts from an overhaul"),
    "why.since.sale": _("Counts from the sale"),
    "why.since.making": _("Counts from the making"),
    "why.since.pass": _("Counts from a passed test"),
    "why.since.shelf.overhaul": _("Lay long in stock: overhaul"),
    "why.since.shelf.tightness": _("Lay long in stock: tightness check"),
    "why.ahead.overhaul": _("Overhaul still to fall due"),
    "why.past.overhaul": _("Overhaul past its day"),
    "why.ahead.tightness": _("Tightness check still to fall due"),
    "why.past.tightness": _("Tightness check past its day"),
    "why.owed.failed": _("Owed: a test was not passed"),
    "why.owed.opened": _("Owed: the case was opened without a test"),
    "why.measured.reading": _("Measured: fell short of the limits"),
    "why.measured.trend": _("Measured: its oils age sooner"),
    "why.measured.trend.past": _("Measured: its oils age sooner, past its day"),
    "why.caution": _("Caution while a test is owed"),
    "takes.overhaul": _("How long an overhaul takes"),
    "takes.included": _("The overhaul includes the test"),
    "takes.tightness": _("How long a check takes"),
    "takes.guarantee": _("Beside a guarantee that runs"),
    "takes.guarantee_work": _("Beside a guarantee on our work that runs"),
    "takes.guarantee_extension": _("Beside an extended guarantee that runs"),
    "takes.guarantee_check": _("A check alone, under any guarantee that runs"),
    "where.near": _("Where to bring it: its boutique, and others in the owner's country"),
    "where.only": _("Where to bring it: its boutique is the only one in the owner's country"),
    "where.country": _("Where to bring it: none sold it, some are in the owner's country"),
    "where.boutique": _("Where to bring it: its boutique is known, none is in the owner's country"),
    "where.any": _("Where to bring it: none is known, none is in the owner's country"),
    "frame.greeting": _("Greeting"),
    "frame.greeting_unnamed": _("Greeting without a name"),
    "frame.overhaul": _("The overhaul by name"),
    "frame.tightness": _("The tightness check by name"),
    "frame.button": _("Button"),
    "frame.link": _("Before the link, in plain text"),
    "frame.closing": _("Closing and signature"),
    "frame.reason": _("Why the owner gets the letter"),
    "frame.stop": _("Link that stops letters"),
    "frame.stop_link": _("Before that link, in plain text"),
    "visit.bring": _("Before the pieces"),
    "visit.calendar": _("About the calendar entry"),
    "visit.calendar_off": _("About the calendar entry, cancelled"),
    "visit.button": _("Button"),
    "visit.link": _("Before the link, in plain text"),
    "visit.button_off": _("Button, cancelled"),
    "visit.link_off": _("Before the link, cancelled, in plain text"),
    "visit.reason": _("Why the owner gets the letter"),
    "receipt.signed": _("About the text that was signed"),
    "receipt.keep": _("What the receipt is for"),
    "receipt.reason": _("Why the owner gets the letter"),
    **{f"{case}.button": _("Button") for case in ORDERS},
    **{f"{case}.link": _("Before the link, in plain text") for case in ORDERS},
    "order.reason": _("Why the owner gets the letter"),
}


def _of(*beginnings: str) -> tuple[str, ...]:
    return tuple(code for code in SLOTS if code.startswith(beginnings))


GROUPS: dict[str, Group] = {
    group.slug: group
    for group in [
        *(Group(case.replace(".", "-"), label, _of(f"{case}."), case) for case, label in LETTERS.items()),
        Group("why-now", _("Why now"), _of("why."), "overhaul.invitation"),
        Group("what-it-takes", _("What it takes, and where"), _of("takes.", "where."), "overhaul.invitation"),
        Group("around", _("Around every letter"), _of("frame."), "overhaul.invitation"),
        *(Group(case.replace(".", "-"), label, _of(f"{case}."), case) for case, label in VISITS.items()),
        Group(
            "visit",
            _("Around every visit"),
            tuple(code for code in SLOTS if code.startswith("visit.") and code.count(".") == 1),
            "visit.booked",
        ),
        *(Group(case, label, _of(f"{case}."), case) for case, label in RECEIPT.items()),
        *(Group(case.replace(".", "-"), label, _of(f"{case}."), case) for case, label in ORDERS.items()),
        Group("order", _("Around every word about an order"), ("order.reason",), "order.estimate"),
    ]
}
GROUP_OF = {code: group for group in GROUPS.values() for code in group.codes}


def label_of(code: str) -> str:
    """What a text is called within its group."""
    return str(LABELS[code])


def told_of(found: Found) -> str:
    """What is wrong with a text, and what to do about it."""
    return str(_FLAWS[found.flaw]) % {"what": found.what}


_FLAWS: dict[Flaw, Words] = {
    Flaw.EMPTY: _("This text is empty. Write something, or take our text."),
    Flaw.TOO_LONG: _("This text is too long: at most %(what)s characters."),
    Flaw.LINE_BREAK: _("This text must be a single line."),
    Flaw.CONTROL: _("This text holds a character that nobody sees (%(what)s). Delete it, or type the text anew."),
    Flaw.OPEN_BRACE: _("A “{” is not closed. For a brace itself, write it twice: “{{”."),
    Flaw.LOOSE_BRACE: _("A “}” closes nothing. For a brace itself, write it twice: “}}”."),
    Flaw.BAD_NAME: _("“%(what)s” is no name: between the braces stands one word in small letters."),
    Flaw.UNKNOWN: _("“{%(what)s}” is not known here. The names that can stand here are listed below the text."),
    Flaw.MISSING: _("“{%(what)s}” is missing: this text must say it."),
}


def names_told(code: str) -> list[tuple[str, str, bool]]:
    """The names that a text may use, what each stands for, and whether it must."""
    slot = SLOTS[code]
    return [
        ("{" + name + "}", str(meaning), name in slot.must)
        for name, meaning in PLACEHOLDERS.items()
        if name in slot.may
    ]


def saved_meanwhile(who: str, text: str) -> str:
    """Somebody else was first."""
    return _now(
        "%(who)s saved another text meanwhile: “%(text)s” Yours is still here; save again to put it in place."
    ) % {
        "who": who,
        "text": text,
    }
