"""One sender at work: it claims a handful of letters, and hands one after another over on one line.

It writes some together and then hands them over without a pause; what the server said of a letter is committed together
with the next one's dot, or at once where the next one takes its time. So there is at most one letter of
which the database does not know where it is, whenever the sender dies.
"""

import gc
import logging
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice

from django.conf import settings
from django.db.models import Q

from service_center.letters.actions import settling
from service_center.letters.actions.claiming import Claim, claim
from service_center.letters.actions.settling import Taken
from service_center.letters.composing import letter as compose
from service_center.letters.faults import fault
from service_center.letters.journal import Journal
from service_center.letters.models import Letter
from service_center.letters.returned import provider
from service_center.letters.rules.handing import Outcome, Phase, verdict
from service_center.letters.rules.journal import Gone, begun_line
from service_center.letters.rules.return_path import return_path
from service_center.letters.rules.words import LetterState
from service_center.letters.smtp import SLOW_SECONDS, Line, MailServer, NoLine, on_the_wire

logger = logging.getLogger(__name__)

# A claim costs much the same however many it takes, and it takes the database and the sender out of their step: the
# first leaves some to others, each full one is followed by a larger one.
FIRST_CLAIM, LARGER_BY, LARGEST_CLAIM = 50, 6, 1000
LETTERS_A_LINE = 1000
# One after another they take the processor half as long as each between two others' hand-over, and the mail server and
# the database answer at once who asks without a pause.
WRITTEN_AT_ONCE = 25
# A server that cuts the line this often in a row is ill: the letters wait for the next look.
BROKEN_LINES = 3
CLOSING = 421  # RFC 5321, 4.2.2


@dataclass(slots=True)
class SendResult:
    """What became of the letters of one run; `waiting` is how many wait afterwards, ready or not.

    `trouble`: what kept the house from its mail server, if anything. `more`: letters that are ready were left.
    `not_configured`: the house has no mail server yet, so that letters wait.
    """

    sent: int = 0
    in_doubt: int = 0
    waiting: int = 0
    refused: int = 0
    trouble: str = ""
    more: bool = False
    not_configured: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """What a sender is to do. `ready`: which letters; `on`: the day; `at_any_hour`: no clock of an owner is asked;
    `may_go_on` is asked between letters, `call_help` called once when there is more than one sender's handful."""

    ready: Q
    on: date
    now: datetime
    at_any_hour: bool
    may_go_on: Callable[[], bool]
    on_letter: Callable[[], object]
    call_help: Callable[[], object]


class Run:
    """One sender at work: its line, its journal, what it knows and has not written down, and what it has counted."""

    def __init__(self, asked: Asked, result: SendResult, *, by: str) -> None:
        self.asked = asked
        self.result = result
        self.by = by
        self.line: Line | None = None
        self.on_this_line = 0
        self.broken_in_a_row = 0
        self.called_help = False
        self.at_once = FIRST_CLAIM
        self.journal = Journal()
        self.taken: Taken | None = None
        self.written: deque[Written | Unwritten] = deque()
        self.began = time.monotonic()

    def go(self, *, until_empty: bool) -> None:
        """Hand over one claim's worth, or all that is ready."""
        try:
            with _little_to_collect():
                while self._one_claim() and until_empty:
                    pass
        except NoLine as error:
            self.result.trouble = str(error)
        finally:
            if self.line:
                self.line.close()
            self.journal.close()
        self.result.more = not self.result.trouble and self._something_waits()

    def _something_waits(self) -> bool:
        return Letter.objects.filter(self.asked.ready, state=LetterState.WAITING).exists()

    def _one_claim(self) -> bool:
        """Claim and hand over once. False when there was nothing, or when this sender is to stop."""
        if not self.asked.may_go_on():
            return False
        if not (self._line_is_good() or self._something_waits()):
            return False
        self._open_line()  # before the claim: a server that is away touches no letter
        at_most = min(self.at_once, LARGEST_CLAIM)
        asked = self.asked
        taken, claims = claim(
            asked.ready, by=self.by, at_most=at_most, on=asked.on, now=asked.now, at_any_hour=asked.at_any_hour
        )
        fault("claimed")
        if taken == at_most:
            self.at_once = at_most * LARGER_BY
            if not self.called_help:
                self.called_help = True
                self.asked.call_help()
        batch = deque(claims)
        try:
            went_on = self._hand_over_all(batch)
        finally:
            # Each even if the other fails: an error of the database is met by the sweep.
            try:
                self._note_taken()
            finally:
                settling.give_back(batch)
        return went_on and taken > 0

    def _hand_over_all(self, batch: deque[Claim]) -> bool:
        """Take letters off the batch until none is left (True, or False where this sender is to stop)."""
        started = time.monotonic()
        while batch:
            if not self.asked.may_go_on():
                return False
            if time.monotonic() - started >= settings.LETTER_LEASE_SECONDS / 2:
                return True  # the rest is claimed anew
            line = self._line_if_any()
            if line is None:
                return False
            self._hand_over(batch, line)
            self.asked.on_letter()
        return True

    def _hand_over(self, batch: deque[Claim], line: Line) -> None:
        written = self._first_written(batch)
        one = batch.popleft()
        if isinstance(written, Unwritten):
            # Whatever a record brought in: the letters behind this one must not wait for it.
            logger.error("Letter %s could not be written", one.letter, exc_info=written.error)
            self._note_taken()
            settling.hold(one, f"it could not be written: {type(written.error).__name__}")
            return
        self.on_this_line += 1
        began = time.monotonic()
        outcome = line.hand_over(
            sender=written.sender,
            recipient=one.to_address,
            message=written.message,
            before_dot=lambda: self._commit_the_dot(one),
            while_answering=self.journal.bring_to_disk,
            while_slow=self._note_taken,
        )
        if outcome is None:
            logger.warning("Letter %s was no longer this sender's; nothing was handed over", one.letter)
            return
        self._learn(written, outcome)
        if time.monotonic() - began > SLOW_SECONDS:
            self._note_taken()  # nothing is won by waiting for the next letter

    def _learn(self, written: "Written", outcome: Outcome) -> None:
        """What the server said of a letter: kept until the next dot where it took it, written down at once otherwise."""
        one = written.claim
        self.broken_in_a_row = self.broken_in_a_row + 1 if outcome.code in (None, CLOSING) else 0
        judged = verdict(outcome)
        if judged.state is LetterState.SENT:
            self.journal.add(Gone(one.going, self._moment(), outcome.text), written.journal_line)
            self.taken = Taken(one, outcome.text)
            fault("journaled")
            return
        self._note_taken()
        if outcome.code == CLOSING and outcome.phase is Phase.SENDER and self.on_this_line > 1:
            settling.give_back([one])  # enough letters for one line: that is not this letter's fault
            return
        self._count(settling.settle(one, outcome, judged))
        fault("settled")

    def _commit_the_dot(self, one: Claim) -> bool:
        self.journal.bring_to_disk()
        mine = settling.commit_the_dot(one, before=self.taken)
        self._is_noted()
        return mine

    def _note_taken(self) -> None:
        """Write down now what would have gone with the next letter's dot."""
        if self.taken:
            self.journal.bring_to_disk()
            settling.note_taken(self.taken)
            self._is_noted()
            fault("settled")

    def _is_noted(self) -> None:
        if self.taken:
            self.taken = None
            self._count(LetterState.SENT)

    def _first_written(self, batch: deque[Claim]) -> "Written | Unwritten":
        if not (self.written and self.written[0].claim is batch[0]):
            self.written = deque(_written(one) for one in islice(batch, WRITTEN_AT_ONCE))
        return self.written.popleft()

    def _moment(self) -> datetime:
        return self.asked.now + timedelta(seconds=time.monotonic() - self.began)

    def _count(self, state: LetterState) -> None:
        if state is LetterState.SENT:
            self.result.sent += 1
        elif state is LetterState.IN_DOUBT:
            self.result.in_doubt += 1
        elif state is LetterState.REFUSED:
            self.result.refused += 1

    def _line_if_any(self) -> Line | None:
        if self.broken_in_a_row >= BROKEN_LINES:
            self.result.trouble = "the mail server cut the line again and again"
            return None
        try:
            return self._open_line()
        except NoLine as error:
            self.result.trouble = str(error)
            return None

    def _line_is_good(self) -> bool:
        return self.line is not None and not self.line.broken and self.on_this_line < LETTERS_A_LINE

    def _open_line(self) -> Line:
        if self.line and self._line_is_good():
            return self.line
        self._note_taken()  # a server may take its time to greet
        if self.line:
            self.line.close()
        self.line, self.on_this_line = None, 0
        self.line = Line(MailServer.of_the_house())
        return self.line


@contextmanager
def _little_to_collect() -> Iterator[None]:
    """Python looks for garbage among what a sender makes, and no longer among all that the house has loaded.

    A claim makes thousands of values, and a look at everything takes as long as many letters.
    """
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


@dataclass(frozen=True, slots=True)
class Written:
    """A letter as it goes on the wire. `sender`: its return path; `journal_line`: the beginning of its line there."""

    claim: Claim
    sender: str
    message: bytes
    journal_line: str


@dataclass(frozen=True, slots=True)
class Unwritten:
    """A letter that could not be written."""

    claim: Claim
    error: Exception


def _written(one: Claim) -> Written | Unwritten:
    try:
        fault("composing")
        sender = return_path(one.letter, secret=settings.SECRET_KEY, domain=settings.BOUNCE_DOMAIN)
        return Written(one, sender, _on_the_wire(one), begun_line(one.going))
    except Exception as error:  # noqa: BLE001  # whatever a record brought in: it holds its own letter and no other
        return Unwritten(one, error)


def _on_the_wire(one: Claim) -> bytes:
    mail = compose.letter_as_mail(
        one.tell(),
        compose.links_for(one.page_token, one.stop_token),
        to_name=one.to_name,
        to_address=one.to_address,
        message_id=one.message_id,
        more=provider.header_for(settings.MAIL_PROVIDER, one.message_id),
    )
    return on_the_wire(mail)
