"""Words of an order's page: what comes next, what was heard, and why a deed is refused."""

from collections.abc import Sequence
from datetime import date

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from service_center.bench.orders.queue_words import lacking, refusal
from service_center.letters.rules.words import Channel, OrderNews
from service_center.workshop.orders.actions import (
    AlreadyFinished,
    AnsweredBefore,
    NotAsked,
    NotOnTheBench,
    NotReady,
    OutOfDate,
)
from service_center.workshop.orders.rules.answers import Heard
from service_center.workshop.orders.rules.control import Lack, Missing
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.orders.rules.steps import CannotMove, Step
from service_center.workshop.words import OPERATIONS

# By the step that the order needs next; while the owner is asked, by that.
NEXT: dict[Step | None, str | Promise] = {
    Step.RECEIVED: _l("Next: the workshop receives it."),
    Step.DIAGNOSED: _l("Next: somebody looks at the piece, and says whether its owner has to be asked."),
    Step.ESTIMATED: _l("Next: the owner agrees to the estimate, or declines it."),
    Step.ON_THE_BENCH: _l("Next: a watchmaker takes it to the bench."),
    Step.UNDER_CONTROL: _l("Next: the control begins; the work at the bench is finished."),
    Step.READY: _l("Next: nothing is missing any more, and it is ready."),
    Step.HANDED_BACK: _l("Next: its owner gets it back."),
}
# What is missing before a piece is ready, the first of it first.
NEXT_LACKING: dict[Lack, str | Promise] = {
    Lack.FAILED: _l("Next: back to the bench, since it is not tight."),
    Lack.READINGS: _l("Next: its rate is read again."),
    Lack.POSITION: _l("Next: the positions are read that were read when it came in."),
    Lack.TIGHTNESS: _l("Next: it is tested for tightness."),
    Lack.OUT_OF_LIMITS: _l("Next: it is regulated again, or somebody says why it is ready all the same."),
}
TO_WRITE = _l("Next: the estimate is written, and the owner is asked.")

HEARD: dict[str, str | Promise] = {
    Heard.PAGE: _l("on their page"),
    Heard.COUNTER: _l("at the counter"),
    Heard.TELEPHONE: _l("by telephone"),
    Heard.PAPER: _l("on paper"),
}
NEWS: dict[OrderNews, str | Promise] = {
    OrderNews.ESTIMATE: _l("The estimate is ready"),
    OrderNews.READY: _l("The piece can be fetched"),
}
CHANNELS: dict[str, str | Promise] = {
    Channel.TELEPHONE.value: _l("By telephone"),
    Channel.PAPER.value: _l("On paper, or at the counter"),
}
REFUSED = (CannotMove, NotReady, NotOnTheBench, AlreadyFinished, AnsweredBefore, NotAsked, OutOfDate)


def what_lacks(missing: Sequence[Missing]) -> list[str]:
    """What is missing before a piece is ready, line by line; operations that are not finished in one."""
    unfinished = [str(OPERATIONS[Operation(one.what)]) for one in missing if one.lack is Lack.OPERATION]
    found = [_("not finished: %(operations)s") % {"operations": ", ".join(unfinished)}] if unfinished else []
    return found + [lacking(one) for one in missing if one.lack is not Lack.OPERATION]


def why_refused(refused: ValueError) -> str:
    """Why a deed was not done, in words, and what would help."""
    if isinstance(refused, CannotMove):
        return refusal(refused)
    if isinstance(refused, NotReady):
        return _("Not ready: %(missing)s.") % {"missing": "; ".join(what_lacks(refused.missing))}
    if isinstance(refused, OutOfDate):
        day = date_format(date.fromisoformat(str(refused)), "j M Y")
        return _("The estimate was valid until %(day)s. Write it anew.") % {"day": day}
    return str(next(word for sort, word in PLAINLY.items() if isinstance(refused, sort)))


PLAINLY: dict[type[ValueError], str | Promise] = {
    AnsweredBefore: _l(
        "The owner has answered this estimate otherwise before. Write a new one, if they think better of it."
    ),
    NotAsked: _l("No answer is waited for any more: another estimate was written, or the order went on."),
    AlreadyFinished: _l("That was finished before. Add it anew, if it is done again."),
    NotOnTheBench: _l("The order does not stand where that is done. Look at it again."),
}
