"""The desk's pages of letters."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.letters.models import Letter
from service_center.letters.queries import listing
from tests.factories import OwnerFactory
from tests.letters.conftest import only_letter, round_on, send
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


def test_letters_in_doubt_stand_on_top_with_their_two_buttons(in_doubt: Letter, signed_in: SignIn) -> None:
    page = signed_in("desk").get(reverse("letters:letters")).content.decode()
    assert "Each waits for your decision" in page
    assert page.count('value="sent_again"') == page.count('value="taken_as_sent"') == 1


def test_a_letter_in_doubt_is_sent_again_as_the_same_message(
    in_doubt: Letter, signed_in: SignIn, sink: MailSink
) -> None:
    client = signed_in("desk")
    answer = client.post(reverse("letters:settle_doubt", args=[in_doubt.pk]), {"how": "sent_again"}, follow=True)
    assert "The letter goes out again, as the same message." in answer.content.decode()
    assert send().sent == 1
    assert len(sink.messages) == 2
    assert len({mail.message_id for mail in sink.messages}) == 1
    trail = Trail.objects.get(subject=f"letter:{in_doubt.pk}")
    assert (trail.deed, trail.before, trail.after) == (
        "letter_sent_again", {"state": "in_doubt"}, {"state": "waiting"},
    )  # fmt: skip


def test_a_letter_taken_as_sent_went_out_when_it_was_at_the_dot(in_doubt: Letter, signed_in: SignIn) -> None:
    signed_in("desk").post(reverse("letters:settle_doubt", args=[in_doubt.pk]), {"how": "taken_as_sent"})
    letter = only_letter()
    assert (letter.state, letter.sent_at) == ("sent", in_doubt.dot_at)
    assert send().sent == 0


def test_two_people_settle_a_doubt_once(in_doubt: Letter, signed_in: SignIn) -> None:
    client = signed_in("desk")
    client.post(reverse("letters:settle_doubt", args=[in_doubt.pk]), {"how": "taken_as_sent"})
    late = client.post(reverse("letters:settle_doubt", args=[in_doubt.pk]), {"how": "sent_again"}, follow=True)
    assert "Nothing was changed: the letter has moved on meanwhile, and is sent now." in late.content.decode()
    assert only_letter().state == "sent"
    assert Trail.objects.filter(subject=f"letter:{in_doubt.pk}").count() == 1


@pytest.mark.parametrize("state", ["held", "refused"])
def test_a_letter_that_is_held_or_was_refused_is_let_go(
    due_piece: Make, signed_in: SignIn, sink: MailSink, state: str
) -> None:
    due_piece()
    round_on("2026-03-18")
    Letter.objects.update(state=state)
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
    assert {one["state"]: one["count"] for one in context["states"]}["waiting"] == 28


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
