"""One timeline of everything, its corrections, and what can be left out of it."""

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from service_center.book.actions import strike_entry
from service_center.book.models import Piece
from service_center.intake.actions import take_in
from service_center.letters.models import Answer, Letter, Reminder
from service_center.pieces.timeline import Sort, timeline
from tests.factories import BoutiqueFactory, StaffFactory, history
from tests.pieces.conftest import TODAY
from tests.pieces.test_record_entry import due, form, record

pytestmark = pytest.mark.django_db


def page(client: Client, piece: Piece, query: str = "") -> str:
    return client.get(f"/pieces/{piece.pk}/{query}").content.decode()


def test_a_struck_entry_and_its_correction_lead_to_each_other_with_who_when_and_why(
    piece: Piece, signed_in: Callable[..., Client]
) -> None:
    wrong = record(piece, done_on=date(2026, 3, 1))
    desk = signed_in("desk")
    desk.post(f"/pieces/{piece.pk}/entries/", form(done_on="2026-03-02", corrects=wrong.code, why="Read off wrongly."))
    right, struck = timeline(piece, TODAY).of(Sort.CORRECTIONS).known
    assert (struck.struck, right.struck) == (True, False)
    assert struck.link is not None
    assert right.link is not None
    assert (struck.link.anchor, right.link.anchor) == (right.anchor, struck.anchor)
    assert (right.why, right.recorded.startswith("written down by staff-")) == ("Read off wrongly.", True)
    text = page(desk, piece)
    assert "<del><strong>Overhaul</strong></del>" in text
    assert f'href="#{right.anchor}"' in text
    assert f'id="{right.anchor}"' in text


def test_a_correction_needs_its_reason(piece: Piece, signed_in: Callable[..., Client]) -> None:
    wrong = record(piece, done_on=date(2026, 3, 1))
    answer = signed_in("desk").post(f"/pieces/{piece.pk}/entries/", form(done_on="2026-03-02", corrects=wrong.code))
    assert "This field is required." in answer.content.decode()
    assert not wrong.corrections.exists()


def test_what_was_struck_by_mistake_is_told_again_and_counts(piece: Piece, signed_in: Callable[..., Client]) -> None:
    first = record(piece, done_on=date(2026, 3, 1))
    struck = strike_entry(first, reason="Never happened.", by=None)
    desk, address = signed_in("desk"), f"/pieces/{piece.pk}/entries/?corrects={struck.code}"
    assert address in page(desk, piece)
    shown = desk.get(address)
    assert shown.context["form"].initial["done_by"] == "own", "it begins with what the first entry said"
    assert "Or strike it out" not in shown.content.decode()
    desk.post(address, form(done_on="2026-03-01", corrects=struck.code, why="It did happen."))
    assert due(piece).starts_on == date(2026, 3, 1)
    assert [moment.struck for moment in timeline(piece, TODAY).of(Sort.CORRECTIONS).known] == [False, True, True]


def test_a_letter_about_two_services_is_one_moment_with_when_it_went_and_the_answer(
    piece: Piece, letter_about: Callable[..., Letter]
) -> None:
    letter = letter_about(state="sent")
    Letter.objects.filter(pk=letter.pk).update(sent_at=datetime(2026, 3, 4, 8, 15, tzinfo=UTC))
    Reminder.objects.create(
        piece=piece, kind="tightness", starts_on=date(2019, 5, 17), step="invitation", letter=letter, due_on=TODAY
    )
    Answer.objects.create(owner=piece.owner, piece=piece, letter=letter, choice="not_now", said_on=date(2026, 3, 9))
    answer, sent = timeline(piece, TODAY).of(Sort.LETTERS).known
    assert sent.what == "Letter: invitation, overhaul · Invitation, tightness check"
    assert sent.details[0].startswith("sent on 4 Mar 2026 at ")
    assert sent.details[1] == "answered on 9 Mar 2026: not now"
    assert answer.what == "Answer: not now"
    [unanswered] = timeline(piece, date(2026, 3, 8)).of(Sort.LETTERS).known
    assert len(unanswered.details) == 1


def test_a_drop_off_stands_on_its_move_with_what_the_owner_said(piece: Piece, signed_in: Callable[..., Client]) -> None:
    at = datetime(2026, 3, 10, 9, tzinfo=UTC)
    staff = StaffFactory(role="boutique", boutique=piece.boutique.code)
    drop_off = take_in(
        piece, form_key=uuid4(), boutique=piece.boutique, by=staff, taken_on=TODAY, at=at, as_of=TODAY, asked=[],
        owner_says="It stops at night.", left_with="", sitting=None,
    )  # fmt: skip
    text = page(signed_in("desk"), piece)
    assert f"Drop-off {drop_off.number}" in text
    assert "It stops at night." in text
    assert "At Harrowmere" in text
    link = reverse("intake:taken_in", args=[drop_off.pk])
    elsewhere, here = (BoutiqueFactory(), piece.boutique)
    Piece.objects.filter(pk=piece.pk).update(boutique=elsewhere)
    assert link in page(signed_in("desk"), piece)
    assert link in page(signed_in("boutique", here.code), piece)
    assert link not in page(signed_in("boutique", elsewhere.code), piece), "no link where no door opens"
    assert link not in page(signed_in("watchmaker"), piece)
    Piece.objects.filter(pk=piece.pk).update(status="stolen")
    assert "It stops at night." not in page(signed_in("boutique", here.code), piece)


def test_one_sort_can_be_shown_alone_and_a_sort_that_is_none_shows_everything(
    piece: Piece, signed_in: Callable[..., Client], letter_about: Callable[..., Letter]
) -> None:
    history(piece, "2024-02-02", note="Mainspring renewed.")
    letter_about(state="sent")
    desk = signed_in("desk")
    letters = page(desk, piece, "?show=letters")
    assert "Letter: invitation" in letters
    assert "Mainspring renewed." not in letters
    assert "Mainspring renewed." in page(desk, piece, "?show=work&as_of=2025-01-01")
    assert "Mainspring renewed." in page(desk, piece, "?show=everything")


def test_beyond_fifty_the_rest_is_folded_and_still_there(piece: Piece, signed_in: Callable[..., Client]) -> None:
    for number in range(60):
        history(piece, f"20{20 + number // 12}-{number % 12 + 1:02}-03", kind="strap", note=f"Strap {number}.")
    answer = signed_in("desk").get(f"/pieces/{piece.pk}/?show=work")
    assert (len(answer.context["happened"]["known"]), len(answer.context["happened"]["folded"])) == (50, 10)
    assert "10 earlier" in answer.content.decode()
    assert "Strap 0." in answer.content.decode()


def test_the_desk_reads_its_sentence_the_owner_s_and_the_record(piece: Piece, signed_in: Callable[..., Client]) -> None:
    piece.owner.language = "de-AT"
    piece.owner.save()
    text = page(signed_in("desk"), piece)
    assert "Counted from the sale on 17 May 2019" in text
    assert '<blockquote lang="de">Die Uhr wurde am 17. Mai 2019 verkauft.' in text
    assert "&quot;starts_on&quot;: &quot;2019-05-17&quot;" in text


def test_the_record_on_the_page_is_the_one_that_list_due_prints(
    piece: Piece, signed_in: Callable[..., Client], capsys: pytest.CaptureFixture[str]
) -> None:
    history(piece, "2024-02-02", kind="battery", tightness="not_tested")
    call_command("list_due", "--as-of", "2025-01-01", "--serial", piece.serial, "--json")
    printed = json.loads(capsys.readouterr().out)
    shown = signed_in("desk").get(f"/pieces/{piece.pk}/?as_of=2025-01-01").context["due"]
    assert [json.loads(one["record"]) for one in shown] == printed
