"""What a letter and its page say of a due date: which text, and with which values. Whole sentences, for translators."""

from collections.abc import Sequence
from datetime import date

from service_center.book.rules import ServiceKind
from service_center.book.wording import one_after_another
from service_center.guarantee.rules import CoveredBy
from service_center.intervals.rules import Due, Evidence, EvidenceFact, OwedFact, StartFact
from service_center.letters.composing.texts import SLOTS
from service_center.letters.composing.wording import Wording, day_in
from service_center.letters.rules.layout import isolated
from service_center.letters.rules.words import Step

# How long a piece stays, in days; common practice, to be told to the owner as a rough guide.
OVERHAUL_DAYS = 28
TIGHTNESS_DAYS = 7  # five working days, as the counter promises unless the house says otherwise
# More names than this are not listed in one sentence.
NAMED_AT_MOST = 5


def case_of(pieces: int, asked: Sequence[tuple[ServiceKind, str]]) -> str:
    """Which letter this is: "overhaul.nudge", "several.invitation". `asked`: each service's kind and step.

    Several pieces were written of before only where every service was. The overhaul goes before the check, as in the
    workshop, and a piece's first letter before a later one.
    """
    if pieces != 1:
        again = bool(asked) and all(step != Step.INVITATION for _kind, step in asked)
        return "several.nudge" if again else "several.invitation"
    kinds = {kind for kind, _step in asked}
    kind = ServiceKind.OVERHAUL if ServiceKind.OVERHAUL in kinds or not kinds else ServiceKind.TIGHTNESS
    steps = {step for of, step in asked if of is kind}
    step = Step.INVITATION.value if Step.INVITATION in steps or not steps else min(steps)
    case = f"{kind.value}.{step}"
    return case if f"{case}.subject" in SLOTS else f"{kind.value}.nudge"


def named(pieces: Sequence[tuple[str, str]]) -> dict[str, str]:
    """What subject and opening may name of the pieces, each given by its name and serial."""
    if len(pieces) == 1:
        [(name, serial)] = pieces
        return {"piece": name, "serial": serial}
    names = list(dict.fromkeys(name for name, _serial in pieces))
    listed = ", ".join(names[:NAMED_AT_MOST]) + (", …" if len(names) > NAMED_AT_MOST else "")
    return {"pieces": listed, "count": str(len(pieces))}


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
        return _measured(wording, due.evidence, piece)
    begun = _because(wording, _start(due.start.fact, due.kind), due.start.on, piece)
    told = "ahead" if as_of < due.due_on else "past"
    return one_after_another(wording.language, begun, _because(wording, f"{told}.{due.kind.value}", due.due_on, piece))


def caution(wording: Wording, due: Due) -> str:
    """What to mind until then; empty where there is nothing."""
    return wording.say("why.caution") if due.kind is ServiceKind.TIGHTNESS and due.owed else ""


def takes(wording: Wording, kind: ServiceKind, *, rated: bool) -> str:
    """What the service takes. `rated`: the model has a pressure rating, so that its overhaul ends with a test."""
    if kind is ServiceKind.TIGHTNESS:
        return wording.say("takes.tightness", days=str(TIGHTNESS_DAYS))
    time = wording.say("takes.overhaul", days=str(OVERHAUL_DAYS))
    return one_after_another(wording.language, time, wording.say("takes.included")) if rated else time


def where(wording: Wording, boutique: str, near: Sequence[str]) -> str:
    """Where to bring it: to the boutique that sold it (may be empty), and to those of the owner's country (`near`).

    To any boutique where none is in the owner's country: booking offers the same (`owner_pages.queries`).
    """
    others = [isolated(one) for one in near if one != boutique]
    listed = ", ".join(others[:NAMED_AT_MOST]) + (", …" if len(others) > NAMED_AT_MOST else "")
    if not near:
        return wording.say("where.boutique", boutique=isolated(boutique)) if boutique else wording.say("where.any")
    if not boutique:
        return wording.say("where.country", boutiques=listed)
    if not others:
        return wording.say("where.only", boutique=isolated(boutique))
    return wording.say("where.near", boutique=isolated(boutique), boutiques=listed)


def guarantee_runs(wording: Wording, until: date, by: CoveredBy) -> str:
    """Which guarantee runs, and that care is no part of it."""
    code = {CoveredBy.WORK: "takes.guarantee_work", CoveredBy.EXTENSION: "takes.guarantee_extension"}
    return wording.say(code.get(by, "takes.guarantee"), day=day_in(wording.language, until))


def _because(wording: Wording, code: str, day: date, piece: str) -> str:
    return wording.say(f"why.{code}", day=day_in(wording.language, day), piece=piece)


def _start(fact: StartFact, kind: ServiceKind) -> str:
    return f"since.shelf.{kind.value}" if fact is StartFact.SHELF else f"since.{fact.value}"


def _measured(wording: Wording, evidence: Evidence, piece: str) -> str:
    code = "measured.reading" if evidence.fact is EvidenceFact.READING else "measured.trend"
    return _because(wording, code, evidence.on, piece)
