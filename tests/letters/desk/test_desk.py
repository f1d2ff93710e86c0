"""The desk's pages of letters."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from service_center.access.models import Trail
from service_center.book.models import Owner, Piece
from service_center.letters.models import Letter, Reminder
from service_center.letters.queries import listing
from service_center.letters.rules.addressing import message_id
from tests.factories import OwnerFactory
from tests.letters.conftest import NOW, come_morning, only_letter, recount, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
SignIn = Callable[..., Client]


@pytest.fixture
def in_doubt(due_piece: Make, sink: MailSink) -> Letter:
    due_piece()
    round_on("2026-03-18")
    sink.fail("after", "drop")
    send()
    return only_letter()


def settle(client: Client, letter: Letter, how: str, *, page: str | None = None) -> str:
    """Press a button beside a letter in doubt, on the page as it was shown then or is now; what is said of it."""
    form = {"how": how}
    shown = page or client.get(reverse("letters:letter", args=[letter.pk])).content.decode()
    named = re.search(r'name="attempt" value="(\d+)"', shown)
    if named:
        form["attempt"] = named[1]
    answer = client.post(reverse("letters:settle_doubt", args=[letter.pk]), form, follow=True)
    return answer.content.decode()


def test_letters_in_doubt_stand_on_top_with_their_two_buttons(in_doubt: Letter, signed_in: SignIn) -> None:
    page = signed_in("desk").get(reverse("letters:letters")).content.decode()
    assert "Each waits for your decision" in page
    assert page.count('value="sent_again"') == page.count('value="taken_as_sent"') == 1


def test_the_list_of_those_in_doubt_has_the_two_buttons_beside_each(in_doubt: Letter, signed_in: SignIn) -> None:
    page = signed_in("desk").get(reverse("letters:letters"), {"state": "in_doubt"}).content.decode()
    assert page.count(reverse("letters:settle_doubt", args=[in_doubt.pk])) == 1
    assert page.count('value="sent_again"') == page.count('value="taken_as_sent"') == 1


def test_a_letter_in_doubt_is_sent_again_as_the_same_message(
    in_doubt: Letter, signed_in: SignIn, sink: MailSink
) -> None:
    client = signed_in("desk")
    with time_machine.travel(datetime(2026, 3, 19, 10, tzinfo=UTC), tick=False):  # a morning
        assert "The letter goes out again, as the same message." in settle(client, in_doubt, "sent_again")
    assert send().sent == 1
    assert len(sink.messages) == 2
    assert len({mail.message_id for mail in sink.messages}) == 1
    trail = Trail.objects.get(subject=f"letter:{in_doubt.pk}")
    assert (trail.deed, trail.before, trail.after) == (
        "letter_sent_again", {"state": "in_doubt"}, {"state": "waiting"},
    )  # fmt: skip


def test_a_letter_taken_as_sent_went_out_when_it_was_at_the_dot(in_doubt: Letter, signed_in: SignIn) -> None:
    settle(signed_in("desk"), in_doubt, "taken_as_sent")
    letter = only_letter()
    assert (letter.state, letter.sent_at) == ("sent", in_doubt.dot_at)
    assert send().sent == 0


def test_two_people_settle_a_doubt_once(in_doubt: Letter, signed_in: SignIn) -> None:
    client = signed_in("desk")
    shown = client.get(reverse("letters:letter", args=[in_doubt.pk])).content.decode()
    settle(client, in_doubt, "taken_as_sent", page=shown)
    late = settle(client, in_doubt, "sent_again", page=shown)
    assert "Nothing was changed: the letter has moved on meanwhile, and is sent now." in late
    assert only_letter().state == "sent"
    assert Trail.objects.filter(subject=f"letter:{in_doubt.pk}").count() == 1


@pytest.mark.parametrize("how", ["sent_again", "taken_as_sent"])
def test_a_page_of_the_first_doubt_does_not_decide_the_second(
    in_doubt: Letter, signed_in: SignIn, sink: MailSink, how: str
) -> None:
    client = signed_in("desk")
    shown = client.get(reverse("letters:letters"), {"state": "in_doubt"}).content.decode()
    settle(client, in_doubt, "sent_again", page=shown)
    come_morning()
    sink.fail("after", "drop")
    send()
    assert only_letter().state == "in_doubt"
    late = settle(client, in_doubt, how, page=shown)
    assert "Nothing was changed: that page did not show this doubt of the letter yet. Decide it here." in late
    assert only_letter().state == "in_doubt"
    assert "The letter goes out again" in settle(client, in_doubt, "sent_again")


@pytest.mark.parametrize("attempt", [None, "", "one", "9" * 40])
def test_a_form_that_names_no_attempt_decides_nothing(in_doubt: Letter, signed_in: SignIn, attempt: str | None) -> None:
    form = {"how": "sent_again"} | ({} if attempt is None else {"attempt": attempt})
    signed_in("desk").post(reverse("letters:settle_doubt", args=[in_doubt.pk]), form)
    assert only_letter().state == "in_doubt"


@pytest.mark.parametrize("state", ["held", "refused"])
def test_a_letter_that_is_held_or_was_refused_is_let_go(
    due_piece: Make, signed_in: SignIn, sink: MailSink, state: str
) -> None:
    due_piece()
    round_on("2026-03-18")
    Letter.objects.update(state=state)
    with time_machine.travel(NOW, tick=False):
        signed_in("desk").post(reverse("letters:release", args=[only_letter().pk]))
    assert send().sent == 1


def test_a_letter_that_was_sent_cannot_be_released(due_piece: Make, signed_in: SignIn, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    send()
    signed_in("desk").post(reverse("letters:release", args=[only_letter().pk]))
    assert send().sent == 0
    assert not Trail.objects.filter(deed="letter_released").exists()


def test_the_desk_reads_a_letter_as_its_owner_does_but_cannot_act_as_the_owner(
    due_piece: Make, signed_in: SignIn, sink: MailSink
) -> None:
    due_piece(owner=OwnerFactory(language="de"))
    round_on("2026-03-18")
    send()
    secret = sink.messages[0].text.split("/o/")[1].split("/")[0]
    letter = only_letter()
    client = signed_in("desk")
    for name in ("letters:letter", "letters:letter_html"):
        page = client.get(reverse(name, args=[letter.pk])).content.decode()
        assert "Revision" in page
        assert secret not in page
    assert letter.reply in client.get(reverse("letters:letter", args=[letter.pk])).content.decode()


def test_the_letters_html_may_neither_run_nor_fetch_anything(due_piece: Make, signed_in: SignIn) -> None:
    due_piece(owner=OwnerFactory(name="<script>alert(1)</script>"))
    round_on("2026-03-18")
    answer = signed_in("desk").get(reverse("letters:letter_html", args=[only_letter().pk]))
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "sandbox" in policy
    assert "script-src" not in policy
    assert "<script>" not in answer.content.decode()


def test_the_list_is_filtered_by_state_and_turned_page_by_page(due_piece: Make, signed_in: SignIn) -> None:
    owners = [OwnerFactory() for _number in range(listing.PAGE + 5)]
    Letter.objects.bulk_create(
        Letter(
            owner=owner,
            language="en",
            planned_on=date(2026, 3, 1 + number % 7),
            not_before="2026-03-18T09:00Z",
            state="sent" if number % 2 else "waiting",
        )
        for number, owner in enumerate(owners)
    )
    client = signed_in("desk")
    seen: list[int] = []
    address: str = reverse("letters:letters")
    while address:
        context = client.get(address).context
        seen += [row["letter"].pk for row in context["rows"]]
        address = context["following"]
    newest_first = Letter.objects.order_by("-planned_on", "-pk").values_list("pk", flat=True)
    assert seen == list(newest_first)
    context = client.get(reverse("letters:letters"), {"state": "sent"}).context
    assert {row["letter"].state for row in context["rows"]} == {"sent"}
    assert {one["state"]: one["shown"] for one in context["states"]}["waiting"] == "28"


def test_the_list_asks_the_same_few_questions_however_long_it_is(
    due_piece: Make, signed_in: SignIn, django_assert_max_num_queries
) -> None:
    for _piece in range(30):
        due_piece()
    round_on("2026-03-18")
    client = signed_in("desk")
    with django_assert_max_num_queries(18):
        client.get(reverse("letters:letters"))


@pytest.mark.parametrize("query", ["state=lost", "after=yesterday", "after=2026-03-18.x"])
def test_a_page_that_does_not_exist_is_not_found(db: None, signed_in: SignIn, query: str) -> None:
    assert signed_in("desk").get(f"{reverse('letters:letters')}?{query}").status_code == 404


def refused_once(due_piece: Make, sink: MailSink, reply: str, **fields: Any) -> Letter:
    due_piece(**fields)
    round_on("2026-03-18")
    sink.fail("rcpt", reply)
    send()
    letter = only_letter()
    assert letter.state == "refused"
    return letter


def test_a_refused_letter_is_not_tried_again_within_28_days_of_another_to_its_owner(
    due_piece: Make, signed_in: SignIn, sink: MailSink
) -> None:
    letter = refused_once(due_piece, sink, "554 5.7.1 not today")
    due_piece(owner=letter.owner, sold_on=date(2019, 5, 18))
    recount("2026-03-18")
    round_on("2026-03-19")
    other = Letter.objects.exclude(pk=letter.pk).get()
    client, again = signed_in("desk"), reverse("letters:release", args=[letter.pk])
    page = client.post(again, follow=True).content.decode()
    assert "Nothing was changed: another letter is on its way or held." in page
    assert send().sent == 1
    page = client.post(again, follow=True).content.decode()
    assert "Nothing was changed: another letter went out less than 28 days ago." in page
    assert (send().sent, len(sink.messages)) == (0, 1)
    assert not Trail.objects.filter(deed="letter_released").exists()
    for days, sent in ((27, 0), (28, 1)):
        Letter.objects.filter(pk=other.pk).update(sent_at=timezone.now() - timedelta(days=days))
        client.post(again)
        come_morning()
        assert send().sent == sent, days


def test_another_letter_that_was_refused_too_does_not_keep_one_from_being_tried_again(
    due_piece: Make, signed_in: SignIn, sink: MailSink
) -> None:
    letter = refused_once(due_piece, sink, "554 5.7.1 not today")
    due_piece(owner=letter.owner, sold_on=date(2019, 5, 18))
    recount("2026-03-18")
    round_on("2026-03-19")
    sink.fail("rcpt", "554 5.7.1 not today")
    send()
    client = signed_in("desk")
    for one in Letter.objects.order_by("pk"):
        client.post(reverse("letters:release", args=[one.pk]))
    come_morning()
    assert send().sent == 1
    assert Letter.objects.get(state="sent").pk == letter.pk


@pytest.mark.parametrize("reply", ["554 5.7.1 no such reputation", "552 5.3.4 too big"])
def test_a_refusal_for_the_houses_fault_asks_nobody_for_another_address(
    due_piece: Make, signed_in: SignIn, sink: MailSink, reply: str
) -> None:
    letter = refused_once(due_piece, sink, reply)
    page = signed_in("desk").get(reverse("letters:letter", args=[letter.pk])).content.decode()
    assert "for a reason that is the house&#x27;s own" in page
    assert "Ask the owner for another address" not in page
    assert "Try again" in page


def test_a_refusal_of_the_mailbox_asks_for_another_address(due_piece: Make, signed_in: SignIn, sink: MailSink) -> None:
    letter = refused_once(due_piece, sink, "550 5.1.1 nobody there")
    page = signed_in("desk").get(reverse("letters:letter", args=[letter.pk])).content.decode()
    assert "Ask the owner for another address" in page


def test_a_refused_letter_that_has_nothing_to_say_any_more_needs_no_hand(
    due_piece: Make, signed_in: SignIn, sink: MailSink
) -> None:
    refused_once(due_piece, sink, "554 5.7.1 not today")
    client = signed_in("desk")

    def refused_on(address: str) -> int:
        [count] = re.findall(r"state--refused.*?<b>([\d,]+)</b>", client.get(address).content.decode(), re.DOTALL)
        return int(count)

    places = (reverse("letters:desk"), "/")
    assert [refused_on(place) for place in places] == [1, 1]
    Reminder.objects.update(ended_on=date(2026, 3, 20))
    assert [refused_on(place) for place in places] == [0, 0]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"letters": False}, "wants no more letters"),
        ({"letters": None}, "nobody asked whether they want letters"),
        ({"email": ""}, "no e-mail address"),
    ],
)
def test_a_letter_that_would_end_instead_of_going_is_not_said_to_go(
    due_piece: Make, signed_in: SignIn, sink: MailSink, change: dict[str, Any], why: str
) -> None:
    letter = refused_once(due_piece, sink, "554 5.7.1 not today")
    Owner.objects.update(**change)
    client = signed_in("desk")
    assert "Try again" not in client.get(reverse("letters:letter", args=[letter.pk])).content.decode()
    told = client.post(reverse("letters:release", args=[letter.pk]), follow=True).content.decode()
    assert f"Nothing was changed: {why}." in told
    assert only_letter().state == "refused"


def test_a_letter_without_anything_left_to_say_is_not_said_to_go(
    due_piece: Make, signed_in: SignIn, sink: MailSink
) -> None:
    letter = refused_once(due_piece, sink, "554 5.7.1 not today")
    Reminder.objects.update(ended_on=date(2026, 3, 20))
    told = signed_in("desk").post(reverse("letters:release", args=[letter.pk]), follow=True).content.decode()
    assert "Nothing was changed: nothing is left to be said in it." in told
    assert only_letter().state == "refused"


def test_a_letter_whose_number_another_one_bore_is_ended_and_a_later_round_writes_it_anew(
    due_piece: Make, signed_in: SignIn, sink: MailSink
) -> None:
    due_piece()
    round_on("2026-03-18")
    letter = only_letter()
    name = message_id(letter.pk, secret=settings.SECRET_KEY, domain=settings.MAIL_FROM.rpartition("@")[2])
    Letter.objects.create(
        owner=OwnerFactory(), language="en", planned_on=date(2026, 3, 1), not_before=timezone.now(), state="sent",
        message_id=name,
    )  # fmt: skip
    assert send().sent == 0
    client, address = signed_in("desk"), reverse("letters:letter", args=[letter.pk])
    page = client.get(address).content.decode()
    assert "Let it go" not in page and "End it" in page
    told = client.post(reverse("letters:release", args=[letter.pk]), follow=True).content.decode()
    assert "Nothing was changed: another letter went out under its number before a restore." in told
    ended = client.post(reverse("letters:end", args=[letter.pk]), follow=True).content.decode()
    assert "The letter was ended." in ended
    assert (
        "has moved on meanwhile, and is ended now"
        in client.post(reverse("letters:end", args=[letter.pk]), follow=True).content.decode()
    )
    assert Trail.objects.filter(deed="letter_ended", subject=f"letter:{letter.pk}").count() == 1
    round_on("2026-03-19")
    assert send().sent == 1


def test_a_letter_that_is_held_for_another_reason_is_not_ended_alone(due_piece: Make, signed_in: SignIn) -> None:
    due_piece()
    round_on("2026-03-18")
    Letter.objects.update(state="held", reason="")
    signed_in("desk").post(reverse("letters:end", args=[only_letter().pk]))
    assert only_letter().state == "held"
