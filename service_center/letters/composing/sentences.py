"""What a letter and its page say of a due date: which text, and with which values. Whole sentences, for translators."""

from collections.abc import Collection, Sequence
from datetime import date

from service_center.book.rules import Complexity, ServiceKind
from service_center.book.wording import listed_in, one_after_another
from service_center.guarantee.rules import CoveredBy
from service_center.intervals.rules import Due, Evidence, EvidenceFact, OwedFact, StartFact
from service_center.letters.composing.texts import SLOTS
from service_center.letters.composing.wording import Wording, day_in
from service_center.letters.rules.layout import isolated
from service_center.letters.rules.words import Step

# How long a piece stays, in days, to be told to the owner as a rough guide: the working days that the counter promises
# unless the house says otherwise (intake/rules/terms.py), in weeks of five. A test holds the two together.
OVERHAUL_DAYS = {
    Complexity.SIMPLE: 28,
    Complexity.AUTOMATIC: 35,
    Complexity.CHRONOGRAPH: 49,
    Complexity.COMPLICATED: 84,
}
UNKNOWN_CALIBRE = Complexity.AUTOMATIC  # the counter takes one that it does not know for the same
TIGHTNESS_DAYS = 7
# More names than this are not listed in one sentence.
NAMED_AT_MOST = 5


def case_of(pieces: int, asked: Sequence[tuple[ServiceKind, str]]) -> str:
    """Which letter this is: "overhaul.nudge", "several.invitation". `asked`: each service's kind and step.

    Several pieces have a later letter of their own only where all of it is of that step; whatever else they are told,
    the words of a first letter are true of it. The overhaul goes before the check, as in the workshop, and a piece's
    first letter before a later one.
    """
    if pieces != 1:
        steps = {step for _kind, step in asked}
        case = f"several.{min(steps)}" if len(steps) == 1 else "several.invitation"
        return case if f"{case}.subject" in SLOTS else "several.invitation"
    kinds = {kind for kind, _step in asked}
    kind = ServiceKind.OVERHAUL if ServiceKind.OVERHAUL in kinds or not kinds else ServiceKind.TIGHTNESS
    steps = {step for of, step in asked if of is kind}
    step = Step.INVITATION.value if Step.INVITATION in steps or not steps else min(steps)
    case = f"{kind.value}.{step}"
    return case if f"{case}.subject" in SLOTS else f"{kind.value}.nudge"


def named(language: str, pieces: Sequence[tuple[str, str]]) -> dict[str, str]:
    """What subject and opening may name of the pieces, each given by its name and serial."""
    if len(pieces) == 1:
        [(name, serial)] = pieces
        return {"piece": name, "serial": serial}
    names = list(dict.fromkeys(name for name, _serial in pieces))
    return {"pieces": _the_first_of(language, names), "count": str(len(pieces))}


def greeting(wording: Wording, owner: str) -> str:
    """How the letter begins."""
    return wording.say("frame.greeting", owner=owner) if owner else wording.say("frame.greeting_unnamed")


def what(wording: Wording, kind: ServiceKind) -> str:
    """The service by name."""
    return wording.say(f"frame.{kind.value}")


def why(wording: Wording, due: Due, as_of: date, piece: str) -> str:
    """Why now, in one or two short sentences an owner understands. Empty where no start is known."""
    if due.start is None or due.due_on is None:
        return ""
    if due.owed:
        code = "owed.failed" if due.owed.fact is OwedFact.FAILED else "owed.opened"
        return _because(wording, code, due.owed.since, piece)
    if due.evidence:
        return _measured(wording, due.evidence, as_of, piece)
    begun = _because(wording, _start(due.start.fact, due.kind), due.start.on, piece)
    told = "ahead" if as_of < due.due_on else "past"
    return one_after_another(wording.language, begun, _because(wording, f"{told}.{due.kind.value}", due.due_on, piece))


def caution(wording: Wording, due: Due) -> str:
    """What to mind until then; empty where there is nothing."""
    return wording.say("why.caution") if due.kind is ServiceKind.TIGHTNESS and due.owed else ""


def takes(wording: Wording, kind: ServiceKind, complexity: Complexity | None, *, rated: bool) -> str:
    """What the service takes. `complexity`: the calibre's, where it is known; `rated`: the model has a pressure rating,
    so that its overhaul ends with a test."""
    if kind is ServiceKind.TIGHTNESS:
        return wording.say("takes.tightness", days=str(TIGHTNESS_DAYS))
    time = wording.say("takes.overhaul", days=str(OVERHAUL_DAYS[complexity or UNKNOWN_CALIBRE]))
    return one_after_another(wording.language, time, wording.say("takes.included")) if rated else time


def where(wording: Wording, boutique: str, near: Sequence[str]) -> str:
    """Where to bring it: to the boutique that sold it (may be empty), and to those of the owner's country (`near`).

    To any boutique where none is in the owner's country: booking offers the same (`owner_pages.queries`).
    """
    others = [isolated(one) for one in near if one != boutique]
    listed = _the_first_of(wording.language, others)
    if not near:
        return wording.say("where.boutique", boutique=isolated(boutique)) if boutique else wording.say("where.any")
    if not boutique:
        return wording.say("where.country", boutiques=listed)
    if not others:
        return wording.say("where.only", boutique=isolated(boutique))
    return wording.say("where.near", boutique=isolated(boutique), boutiques=listed)


def _the_first_of(language: str, names: Sequence[str]) -> str:
    return listed_in(language, [*names[:NAMED_AT_MOST], *(["…"] if len(names) > NAMED_AT_MOST else [])])


def guarantee_runs(wording: Wording, until: date, by: CoveredBy, kinds: Collection[ServiceKind]) -> str:
    """Which guarantee runs, and whether what the letter asks for is part of it: a check is under each, an overhaul is
    under none (as at the counter: intake/rules/terms.py)."""
    day = day_in(wording.language, until)
    if set(kinds) == {ServiceKind.TIGHTNESS}:
        return wording.say("takes.guarantee_check", day=day)
    code = {CoveredBy.WORK: "takes.guarantee_work", CoveredBy.EXTENSION: "takes.guarantee_extension"}
    return wording.say(code.get(by, "takes.guarantee"), day=day)


def _because(wording: Wording, code: str, day: date, piece: str) -> str:
    return wording.say(f"why.{code}", day=day_in(wording.language, day), piece=piece)


def _start(fact: StartFact, kind: ServiceKind) -> str:
    return f"since.shelf.{kind.value}" if fact is StartFact.SHELF else f"since.{fact.value}"


def _measured(wording: Wording, evidence: Evidence, as_of: date, piece: str) -> str:
    if evidence.fact is EvidenceFact.READING:
        return _because(wording, "measured.reading", evidence.on, piece)
    code = "measured.trend" if as_of < evidence.on else "measured.trend.past"
    return _because(wording, code, evidence.on, piece)
