"""What a sender promises beside its everyday work: it names its attempt, it rests longer each time, it lets an ill
server be, and neither broker nor clock decides anything (letters.md, sent once; reliability.md, B1 and B2)."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.conf import settings as house
from django.db.models import F, Q
from django.db.models.functions import Now

from service_center.book.models import Owner, Piece
from service_center.celery import app
from service_center.letters.actions import settling
from service_center.letters.actions.claiming import Claim, claim
from service_center.letters.actions.settling import Taken
from service_center.letters.models import DeliveryReport, Letter, OwnerLink, StoppedAddress
from service_center.letters.rules.handing import Outcome, Phase, pause_after, verdict
from service_center.letters.tasks import send_waiting_letters, tick
from tests.letters.conftest import NOW, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
TAKEN = Outcome(Phase.DOT, 250, "250 2.0.0 queued as 1")
REFUSED = Outcome(Phase.RECIPIENT, 550, "550 5.7.1 policy")
NOBODY_THERE = Outcome(Phase.RECIPIENT, 550, "550 5.1.1 no such mailbox")
LATER = Outcome(Phase.RECIPIENT, 451, "451 4.3.0 not now")
SILENT = Outcome(Phase.DOT, None, "the line dropped")

DEEDS: dict[str, Callable[[Claim], object]] = {
    "goes to the dot": settling.commit_the_dot,
    "notes that it was taken": lambda one: settling.note_taken(Taken(one, TAKEN.text)),
    "notes it with the next dot": lambda one: settling.commit_the_dot(one, before=Taken(one, TAKEN.text)),
    "holds it": lambda one: settling.hold(one, "it could not be written"),
    "gives it back": lambda one: settling.give_back([one]),
    "is refused": lambda one: settling.settle(one, REFUSED, verdict(REFUSED)),
    "is put off": lambda one: settling.settle(one, LATER, verdict(LATER)),
    "is in doubt": lambda one: settling.settle(one, SILENT, verdict(SILENT)),
}


@pytest.fixture
def old_claim(due_piece: Make) -> Claim:
    """A claim whose lease ran out, so that its letter was put back."""
    due_piece()
    round_on("2026-03-18")
    _taken, [one] = claim(Q(), by="we", at_most=1, on=NOW.date(), now=NOW)
    Letter.objects.update(state="waiting", lease_until=None)
    return one


@pytest.mark.parametrize("state", ["handing_over", "at_the_dot"])
@pytest.mark.parametrize("by", ["we", "others"])
@pytest.mark.parametrize("deed", DEEDS)
def test_an_attempt_that_was_given_up_changes_nothing_of_the_next_one(
    old_claim: Claim, deed: str, by: str, state: str
) -> None:
    """Not even where a sender of the same name has it: a machine that starts again gives the old numbers anew."""
    claim(Q(), by=by, at_most=1, on=NOW.date(), now=NOW)
    Letter.objects.update(state=state)
    [before] = Letter.objects.values()
    DEEDS[deed](old_claim)
    assert list(Letter.objects.values()) == [before]
    assert not DeliveryReport.objects.exists()


def test_a_refusal_that_comes_too_late_stops_no_address_that_the_letter_goes_to_since(old_claim: Claim) -> None:
    """The owner mended a misspelt address while the first sender waited for the server's word about the old one."""
    owner = Letter.objects.select_related("owner").get().owner
    Owner.objects.filter(pk=owner.pk).update(email="mended@owners.example")
    claim(Q(), by="others", at_most=1, on=NOW.date(), now=NOW)
    settling.settle(old_claim, NOBODY_THERE, verdict(NOBODY_THERE))
    assert not StoppedAddress.objects.exists()


def test_a_refusal_of_the_end_of_the_message_settles_the_doubt_of_those_who_gave_its_sender_up(due_piece: Make) -> None:
    due_piece()
    round_on("2026-03-18")
    _taken, [one] = claim(Q(), by="we", at_most=1, on=NOW.date(), now=NOW)
    assert settling.commit_the_dot(one)
    Letter.objects.update(state="in_doubt", lease_until=None)
    full = Outcome(Phase.DOT, 554, "554 5.6.0 not taken")
    settling.settle(one, full, verdict(full))
    assert Letter.objects.get().state == "refused"


@pytest.mark.parametrize("deed", ["goes to the dot", "gives it back", "holds it"])
def test_a_letter_in_the_hands_of_another_sender_is_not_ours_though_the_attempt_is_the_same(
    old_claim: Claim, deed: str
) -> None:
    """The next sender gave it back unopened, so that its number was given once more."""
    Letter.objects.update(attempt=F("attempt") - 1)
    claim(Q(), by="others", at_most=1, on=NOW.date(), now=NOW)
    [before] = Letter.objects.values()
    assert before["attempt"] == old_claim.attempt
    DEEDS[deed](old_claim)
    assert list(Letter.objects.values()) == [before]


def test_at_the_dot_nobody_takes_a_sender_to_be_dead_before_the_server_may_have_answered(due_piece: Make) -> None:
    due_piece()
    round_on("2026-03-18")
    _taken, [one] = claim(Q(), by="we", at_most=1, on=NOW.date(), now=NOW)
    assert settling.commit_the_dot(one)
    patience = timedelta(seconds=house.MAIL_DOT_SECONDS)
    assert Letter.objects.filter(lease_until__gt=Now() + patience).exists()


def test_what_goes_back_unopened_leaves_no_secret_behind(due_piece: Make) -> None:
    due_piece()
    round_on("2026-03-18")
    _taken, claims = claim(Q(), by="we", at_most=1, on=NOW.date(), now=NOW)
    assert OwnerLink.objects.exists()
    settling.give_back(claims)
    assert not OwnerLink.objects.exists()


@pytest.mark.parametrize("letter", [1, 7, 999_983])
def test_pauses_grow_from_minutes_to_days_and_after_the_last_day_there_is_none(letter: int) -> None:
    """At least four days of trying (RFC 5321, 4.5.4.1). A tenth at most is added, so that many do not come at once."""
    minutes = [5, 30, 2 * 60, 8 * 60, *[24 * 60] * 7]
    rests = [pause_after(refusals, letter) for refusals in range(1, len(minutes) + 1)]
    for rest, wanted in zip(rests, minutes, strict=True):
        assert rest is not None
        assert 1 <= rest / timedelta(minutes=wanted) < 1.1
    assert pause_after(len(minutes) + 1, letter) is None


def test_many_letters_that_were_put_off_do_not_come_back_in_one_moment() -> None:
    assert len({pause_after(1, letter) for letter in range(1, 51)}) > 40


@pytest.mark.parametrize("failure", ["drop", "421 4.7.0 too busy, try again later"])
def test_a_server_that_cuts_line_after_line_is_let_be_and_the_letters_behind_are_not_touched(
    due_piece: Make, sink: MailSink, failure: str
) -> None:
    for _piece in range(6):
        due_piece()
    round_on("2026-03-18")
    sink.fail("mail", failure, times=6)
    result = send()
    assert (result.sent, result.waiting, result.trouble) == (0, 6, "the mail server cut the line again and again")
    attempts = Letter.objects.order_by("not_before", "pk").values_list("attempt", flat=True)
    assert sorted(attempts) == [0, 0, 0, 1, 1, 1]
    assert sink.connections == 3


def test_the_database_is_swept_every_half_minute_and_no_ring_lasts_longer_than_the_broker_waits() -> None:
    """A soft limit would raise between the dot and its reply; an early acknowledgement costs half a minute at most."""
    sweep = app.conf.beat_schedule["tick"]
    assert (sweep["task"], sweep["schedule"]) == (tick.name, 30.0)
    assert send_waiting_letters.soft_time_limit is app.conf.task_soft_time_limit is None
    assert app.conf.task_time_limit < app.conf.visibility_timeout
    assert not app.conf.task_acks_late
    assert app.conf.result_backend is None
