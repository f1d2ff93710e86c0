"""How a letter leaves the house, and what each answer of the mail server makes of it."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db.models.functions import Now
from django.utils import timezone

from service_center.book.models import Piece
from service_center.letters import faults
from service_center.letters.actions import lost, settling
from service_center.letters.actions.claiming import Claim
from service_center.letters.models import Letter, OwnerLink, Sender, StoppedAddress
from service_center.letters.queries.late import next_mornings
from service_center.letters.rules.addressing import message_id
from service_center.letters.rules.return_path import return_path
from service_center.letters.rules.words import LetterState
from tests.letters.conftest import NOW, only_letter, round_on, send
from tests.letters.sink import MailSink, nobody_listens

Make = Callable[..., Piece]


@pytest.fixture(autouse=True, params=[False, True], ids=["one command at a time", "commands together"])
def together(request: pytest.FixtureRequest, sink: MailSink) -> None:
    """Servers of both kinds (RFC 2920)."""
    sink.pipelining = request.param


@pytest.fixture
def waiting(due_piece: Make) -> Letter:
    """A letter of a day long past, so that its morning has come by any clock."""
    due_piece()
    round_on("2026-03-18")
    return only_letter()


def test_a_letter_that_the_server_takes_is_sent_with_its_reply(waiting: Letter, sink: MailSink, settings) -> None:
    assert send().sent == 1
    letter = only_letter()
    assert letter.state == LetterState.SENT
    assert letter.reply == "250 2.0.0 queued as 1"
    assert letter.sent_at is not None
    [mail] = sink.messages
    assert mail.message_id == letter.message_id
    assert mail.recipients == (letter.owner.email,)
    # Comes back to an address of its own; what the owner sees is the house's.
    assert mail.sender == return_path(letter.pk, secret=settings.SECRET_KEY, domain="fernhollow.example")
    assert mail.parsed["From"].addresses[0].addr_spec == "service@fernhollow.example"


def test_a_sent_letter_never_goes_again(waiting: Letter, sink: MailSink) -> None:
    send()
    assert send().sent == 0
    assert len(sink.messages) == 1


def test_letters_wait_while_the_house_has_no_mail_server(waiting: Letter, settings) -> None:
    settings.MAIL_CONFIGURED = False
    result = send()
    assert (result.sent, result.waiting, result.not_configured) == (0, 1, True)
    assert only_letter().attempt == 0


def test_a_server_that_is_away_touches_no_letter(waiting: Letter, sink: MailSink, settings) -> None:
    with nobody_listens() as port:
        settings.EMAIL_PORT = port
        result = send()
    assert result.waiting == 1
    assert f"127.0.0.1:{port}" in result.trouble
    assert only_letter().attempt == 0
    assert Sender.objects.get().trouble == result.trouble


def test_a_letter_waits_for_its_owners_morning(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    Letter.objects.update(not_before=timezone.now() + timedelta(minutes=5))
    assert send().sent == 0
    Letter.objects.update(not_before=Now())
    assert send().sent == 1


def test_as_of_a_day_stands_for_that_day_at_its_end(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2031-03-19")
    assert send().sent == 0
    assert send("2031-03-18").sent == 0
    assert send("2031-03-19").sent == 1


@pytest.mark.parametrize("phase", ["mail", "rcpt", "data", "dot"])
def test_a_temporary_refusal_rests_and_goes_later_as_the_same_message(
    waiting: Letter, sink: MailSink, phase: str
) -> None:
    sink.fail(phase, "451 4.3.0 not now")
    result = send()
    letter = only_letter()
    assert (result.sent, result.waiting, letter.state) == (0, 1, LetterState.WAITING)
    assert letter.reply == "451 4.3.0 not now"
    soon, late = (timezone.now() + timedelta(minutes=minutes) for minutes in (4, 6))
    owner = letter.owner_id  # in whose morning it is tried again
    assert next_mornings([owner], soon)[owner] <= letter.not_before <= next_mornings([owner], late)[owner]
    assert send().sent == 0
    first = letter.message_id
    Letter.objects.update(not_before=Now())
    assert send().sent == 1
    [mail] = sink.messages
    assert mail.message_id == first


def test_a_letter_that_rests_rests_also_where_another_day_stands_for_today(waiting: Letter, sink: MailSink) -> None:
    """All its pauses lie before the end of that day: it was tried a dozen times in a second, and given up."""
    sink.fail("rcpt", "451 4.7.1 greylisted", times=20)
    assert send("2099-12-31").refused == 0
    waiting.refresh_from_db()
    assert (waiting.state, waiting.temporary_refusals) == ("waiting", 1)
    Letter.objects.update(not_before=Now())
    send("2099-12-31")
    waiting.refresh_from_db()
    assert waiting.temporary_refusals == 2


def test_after_its_last_try_a_letter_counts_as_refused(waiting: Letter, sink: MailSink) -> None:
    for _day in range(12):
        sink.fail("rcpt", "450 4.2.0 busy")
        Letter.objects.update(not_before=Now())
        send()
    letter = only_letter()
    assert (letter.state, letter.attempt) == (LetterState.REFUSED, 12)
    assert not StoppedAddress.objects.exists()


def test_a_mailbox_that_does_not_exist_is_refused_and_its_address_stopped(waiting: Letter, sink: MailSink) -> None:
    sink.fail("rcpt", "550 5.1.1 no such mailbox")
    assert send().refused == 1
    assert only_letter().state == LetterState.REFUSED
    stopped = StoppedAddress.objects.get()
    assert stopped.email == waiting.owner.email
    assert stopped.because == "550 5.1.1 no such mailbox"


@pytest.mark.parametrize("phase", ["mail", "rcpt", "data", "dot"])
def test_a_refusal_of_policy_is_about_the_house_and_stops_no_address(
    waiting: Letter, sink: MailSink, phase: str
) -> None:
    sink.fail(phase, "550 5.7.1 policy")
    assert send().refused == 1
    assert only_letter().state == LetterState.REFUSED
    assert not StoppedAddress.objects.exists()


@pytest.mark.parametrize("failure", ["drop", 0.2], ids=["drops", "falls silent"])
@pytest.mark.parametrize("phase", ["mail", "rcpt", "data"])
def test_a_line_that_fails_before_the_dot_delivers_nothing_and_the_letter_waits(
    waiting: Letter, sink: MailSink, phase: str, failure: str | float
) -> None:
    sink.fail(phase, failure)
    result = send()
    assert (result.sent, result.in_doubt, result.waiting) == (0, 0, 1)
    assert only_letter().state == LetterState.WAITING
    assert sink.messages == []


def test_a_line_cut_within_the_message_is_no_doubt_where_it_is_known_before_the_dot(
    waiting: Letter, sink: MailSink
) -> None:
    sink.fail("body", "drop")
    faults.plan("at_the_dot:sleep=0.3")
    try:
        result = send()
    finally:
        faults.plan("")
    assert (result.in_doubt, result.waiting, only_letter().state) == (0, 1, LetterState.WAITING)
    assert sink.messages == []


def test_a_server_that_speaks_within_the_message_gets_no_dot_and_the_letter_waits(
    waiting: Letter, sink: MailSink
) -> None:
    """Whatever it says: its next word could be taken for the answer to the dot."""
    sink.fail("body", "250 2.0.0 queued as 7")
    faults.plan("at_the_dot:sleep=0.3")
    try:
        result = send()
    finally:
        faults.plan("")
    assert (result.sent, result.in_doubt, only_letter().state) == (0, 0, LetterState.WAITING)
    assert sink.messages == []


def test_a_server_silent_within_the_message_leaves_a_doubt_since_the_dot_went_out(
    waiting: Letter, sink: MailSink
) -> None:
    sink.fail("body", 0.3)
    assert send().in_doubt == 1
    assert sink.messages == []


@pytest.mark.parametrize("failure", ["drop", 0.2], ids=["drops", "falls silent"])
@pytest.mark.parametrize("phase", ["dot", "after"])
def test_a_line_that_fails_after_the_dot_leaves_a_doubt_that_nobody_resolves_by_itself(
    waiting: Letter, sink: MailSink, phase: str, failure: str | float
) -> None:
    sink.fail(phase, failure)
    assert send().in_doubt == 1
    assert only_letter().state == LetterState.IN_DOUBT
    assert send().sent == 0
    assert len(sink.messages) == (1 if phase == "after" else 0)


@pytest.mark.parametrize(
    "failure", ["554 no service", "421 too busy", "drop", 0.2], ids=["refuses", "is busy", "drops", "falls silent"]
)
@pytest.mark.parametrize("phase", ["connect", "ehlo"])
def test_a_session_that_does_not_open_is_no_letters_fault(
    waiting: Letter, sink: MailSink, phase: str, failure: str | float
) -> None:
    # A server that knows no EHLO is greeted the old way; one that cuts the line is not.
    sink.fail(phase, failure)
    result = send()
    if phase == "ehlo" and failure == "554 no service":
        assert result.sent == 1
        return
    assert (result.waiting, bool(result.trouble)) == (1, True)
    assert only_letter().attempt == 0


def test_a_server_silent_beyond_patience_at_the_dot_leaves_a_doubt(waiting: Letter, sink: MailSink, settings) -> None:
    settings.MAIL_DOT_SECONDS = 0.3
    sink.fail("after", 2.0)
    assert send().in_doubt == 1
    assert only_letter().reason == "no answer to the end of the message"


def test_one_line_serves_many_letters_and_a_refusal_does_not_end_it(due_piece: Make, sink: MailSink) -> None:
    for _piece in range(5):
        due_piece()
    round_on("2026-03-18")
    sink.fail("rcpt", "550 5.1.1 no such mailbox")
    result = send()
    assert (result.sent, result.refused, sink.connections) == (4, 1, 1)


def test_a_server_that_closes_after_each_letter_still_gets_all(due_piece: Make, sink: MailSink) -> None:
    for _piece in range(3):
        due_piece()
    round_on("2026-03-18")
    sink.fail("mail", "421 4.3.2 closing", times=2)
    send()
    Letter.objects.update(not_before=Now())
    assert send().sent + 1 >= 2
    assert len({mail.message_id for mail in sink.messages}) == 3


def test_a_server_that_takes_only_so_many_letters_a_line_gets_the_rest_on_the_next(
    due_piece: Make, sink: MailSink
) -> None:
    for _piece in range(3):
        due_piece()
    round_on("2026-03-18")
    send(may_go_on=lambda: sink.count < 1)
    planned = []

    def after_one() -> None:
        if not planned:
            planned.append(sink.fail("mail", "421 4.7.0 enough for one line"))

    assert send(on_letter=after_one).sent == 2
    assert sink.connections == 3
    assert set(Letter.objects.values_list("attempt", "temporary_refusals")) == {(1, 0)}


def test_a_server_that_asks_for_the_message_of_a_refused_recipient_does_not_get_it(
    waiting: Letter, sink: MailSink
) -> None:
    """Where commands come together, DATA is out before the refusal is read."""
    sink.fail("rcpt", "550 5.1.1 no such mailbox")
    sink.fail("data", "354 go on")
    assert send().refused == 1
    assert sink.messages == []
    assert only_letter().reply == "550 5.1.1 no such mailbox"


def test_a_sender_that_slept_past_its_lease_hangs_up_without_the_dot(waiting: Letter, sink: MailSink) -> None:
    """Its lease ran out between the claim and the dot, and a sweep put the letter back."""
    commit, slept = settling.commit_the_dot, []

    def asleep(one: Claim, *, before: settling.Taken | None) -> bool:
        if not slept:
            slept.append(one)
            Letter.objects.update(lease_until=Now() - timedelta(seconds=1))
            lost.put_back_the_abandoned()
        return commit(one, before=before)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settling, "commit_the_dot", asleep)
        assert send().sent == 1
    assert (len(sink.messages), only_letter().attempt, sink.connections) == (1, 2, 2)


def test_a_letter_whose_sender_died_before_the_dot_waits_again(waiting: Letter) -> None:
    Letter.objects.update(state="handing_over", attempt=1, lease_until=Now() - timedelta(seconds=1))
    assert lost.put_back_the_abandoned() == (1, 0)
    assert only_letter().state == LetterState.WAITING


def test_a_letter_whose_sender_died_at_the_dot_is_in_doubt(waiting: Letter) -> None:
    Letter.objects.update(state="at_the_dot", attempt=1, lease_until=Now() - timedelta(seconds=1))
    assert lost.put_back_the_abandoned() == (0, 1)
    assert only_letter().state == LetterState.IN_DOUBT


def test_a_letter_in_hand_is_left_alone_while_its_lease_runs(waiting: Letter, sink: MailSink) -> None:
    Letter.objects.update(state="handing_over", attempt=1, lease_until=Now() + timedelta(minutes=1))
    assert send().sent == 0
    assert only_letter().state == LetterState.HANDING_OVER


def test_a_sender_told_to_stop_gives_back_what_it_has_not_tried(due_piece: Make, sink: MailSink) -> None:
    for _piece in range(4):
        due_piece()
    round_on("2026-03-18")
    result = send(may_go_on=lambda: len(sink.messages) < 2)
    assert (result.sent, result.waiting, result.more) == (2, 2, True)
    assert set(Letter.objects.values_list("state", flat=True)) == {"sent", "waiting"}
    assert send().sent == 2


def test_each_letter_carries_two_secrets_that_are_stored_as_hashes_only(waiting: Letter, sink: MailSink) -> None:
    send()
    [mail] = sink.messages
    token = mail.text.split("/o/")[1].split("/")[0]
    assert len(token) == 43
    assert sorted(OwnerLink.objects.values_list("purpose", flat=True)) == ["page", "stop"]
    assert not OwnerLink.objects.filter(token_hash__contains=token).exists()


def test_a_letter_whose_number_another_went_out_under_is_held_and_those_behind_it_go(
    due_piece: Make, sink: MailSink, settings
) -> None:
    """A journal that is heard after a restore brings back a letter whose number a new one has by then."""
    for _piece in range(3):
        due_piece()
    round_on("2026-03-18")
    first, *others = Letter.objects.order_by("not_before", "pk")
    borne = message_id(first.pk, secret=settings.SECRET_KEY, domain=settings.MAIL_FROM.rpartition("@")[2])
    Letter.objects.create(
        owner=others[0].owner,
        planned_on=date(2026, 1, 5),
        not_before=NOW,
        state="sent",
        language="en",
        message_id=borne,
    )
    assert send().sent == 2
    assert Letter.objects.get(pk=first.pk).state == "held"
    assert {mail.message_id for mail in sink.messages} == {
        Letter.objects.get(pk=letter.pk).message_id for letter in others
    }
