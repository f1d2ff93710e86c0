"""A copy of an owner's data: all of theirs and nothing of others; corrections and erasure, and what the desk decides."""

import io
import json
import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.core.cache import cache
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from service_center.access.actions import leave_trail
from service_center.access.models import Trail
from service_center.book.actions import move_piece
from service_center.book.models import Boutique, Owner, Piece
from service_center.book.rules import Place, name_key
from service_center.intake.actions import take_in
from service_center.intake.visits.actions import Wish, book
from service_center.intake.visits.models import OpeningHours
from service_center.letters.models import Answer, Letter, LetterGround
from service_center.measurements.actions import record_sheet
from service_center.measurements.rules import Reading, Wind
from service_center.owner_pages.copying import copy_of
from service_center.owner_pages.data_paper import data_paper
from service_center.owner_pages.models import OwnerRequest
from service_center.owner_pages.rules import own_time
from tests.factories import OwnerFactory, PieceFactory, StaffFactory, history
from tests.owner_pages.conftest import NOW, TODAY, Sent, open_pages, send_about, words_of


def take_copy(client: Client, sent: Sent, form: str = "json") -> Any:
    return client.post(f"{sent.address}data/copy/", {"form": form})


def copy(client: Client, sent: Sent) -> dict[str, Any]:
    answer = take_copy(client, sent)
    assert answer.status_code == 200
    found: dict[str, Any] = json.loads(answer.content)
    return found


def text_of_pdf(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())


def lived_with(piece: Piece, sent: Sent, client: Client, said: str) -> None:
    """An owner who booked a visit, brought the piece and got it back, corrected an address and answered."""
    answer = {"choice": "not_now", "piece": piece.serial, "day": "2026-08-08"}
    assert client.post(sent.answer_address, answer).status_code == 302
    boutique = piece.boutique
    assert boutique is not None
    OpeningHours.objects.get_or_create(boutique=boutique, weekday=4, opens=time(10), closes=time(12), places=2)
    wish = Wish(boutique, date(2026, 6, 12), time(10, 30))
    book(sent.letter, [piece], wish, form_key=uuid4(), on=TODAY, now=NOW)
    take_in(
        piece,
        form_key=uuid4(),
        boutique=boutique,
        by=StaffFactory(role="boutique", boutique=boutique.code, username=f"staff {said}"),
        taken_on=TODAY,
        at=NOW,
        as_of=TODAY,
        asked=[],
        owner_says=said,
        left_with=f"case {said}",
        sitting=None,
    )
    piece.refresh_from_db()
    move_piece(piece, to=Place.OWNER, boutique=None, at=NOW, by=None)
    owner = Owner.objects.get(pk=sent.letter.owner_id)
    details = {
        "email": owner.email,
        "phone": owner.phone,
        "country": "GB",
        "language": owner.language,
        "address": f"Way {said}",
    }
    assert client.post(f"{sent.address}details/", details).status_code == 302


@pytest.mark.django_db
def test_a_copy_holds_all_that_the_house_has_of_its_owner(client: Client, sent: Sent, piece: Piece) -> None:
    history(piece, "2023-03-02", kind="repair", note="Written for the workshop.")
    lived_with(piece, sent, client, "ABLE")
    found = copy(client, sent)
    owner = sent.letter.owner
    assert found["owner"]["name"] == owner.name
    assert found["owner"]["postal_address"] == ["Way ABLE"]
    [watch] = found["watches"]
    assert watch["serial"] == piece.serial
    assert [one["done_on"] for one in watch["work"]] == ["2023-03-02"]
    confirmed = Letter.objects.get(sort="confirmation")
    assert [one["number"] for one in found["letters"]] == [sent.letter.pk, confirmed.pk]
    assert found["letters"][0]["about"] == [{"serial": piece.serial, "kind": "overhaul", "due_on": "2026-05-17"}]
    [ground] = found["letter_grounds"]
    assert ground["ground"] == "existing_customer"
    assert ground["on"] == "2019-05-17"
    assert ground["wording"] == LetterGround.objects.get(owner=owner).wording
    assert [one["choice"] for one in found["answers"]] == ["not_now", "booked"]
    assert [one["serials"] for one in found["visits"]] == [[piece.serial]]
    assert [one["you_said"] for one in found["drop_offs"]] == ["ABLE"]
    assert {one["kind"] for one in found["requests"]} == {"details", "copy"}
    assert "owner_corrects" in {one["what"] for one in found["changes"]}
    assert set(found["legal_grounds"]) == {"watches_and_work", "keeping_records", "letters"}
    everything = json.dumps(found)
    assert "Written for the workshop" not in everything
    assert "staff ABLE" not in everything
    assert sent.page not in everything


@pytest.mark.django_db
def test_a_copy_to_read_says_the_same_in_the_owner_s_language(client: Client, piece: Piece) -> None:
    piece.owner = OwnerFactory(language="de", name="דנה מזרחי")
    piece.save()
    sent = send_about(piece)
    history(piece, "2023-03-02", kind="repair")
    lived_with(piece, sent, client, "ABLE")
    answer = take_copy(client, sent, "pdf")
    assert answer["Content-Type"] == "application/pdf"
    text = text_of_pdf(answer.content)
    for told in ("Warum wir Ihnen schreiben dürfen", "Sie sind Kundin oder Kunde bei uns", "17. Mai 2019"):
        assert told in text
    for told in ("Eine Kopie Ihrer Daten", "2. März 2023", piece.serial, "Way ABLE", "case ABLE", "8. August 2026"):
        assert told in text
    assert "staff ABLE" not in text


@pytest.mark.django_db
@pytest.mark.parametrize("form", ["json", "pdf"])
def test_of_a_piece_that_changed_hands_each_owner_gets_their_own_time(client: Client, form: str) -> None:
    first = PieceFactory(serial="FH21-000042", owner=OwnerFactory(name="Ada First", email="ada@first.example"))
    sent_first = send_about(first)
    history(first, "2023-03-03", kind="repair")
    lived_with(first, sent_first, client, "FIRST")
    Piece.objects.filter(pk=first.pk).update(owner=OwnerFactory(name="Bo Second", email="bo@second.example"))
    history(first, "2026-08-20", kind="battery")
    later = datetime(2026, 9, 9, 10, tzinfo=UTC)
    piece = Piece.objects.select_related("boutique").get(pk=first.pk)
    with time_machine.travel(later, tick=False):
        sent_second = send_about(piece, kinds=("tightness",))
        sent_second.letter.planned_on = later.date()
        sent_second.letter.save()
        texts = []
        for sent in (sent_first, sent_second):
            content = take_copy(client, sent, form).content
            texts.append(text_of_pdf(content) if form == "pdf" else content.decode())
    of_first, of_second = texts
    day_of_repair, day_of_battery = ("2023-03-03", "2026-08-20") if form == "json" else ("3 March 2023", "Battery")
    assert day_of_repair in of_first
    assert day_of_battery not in of_first
    assert day_of_repair not in of_second
    assert day_of_battery in of_second
    for theirs in ("Bo Second", "bo@second.example"):
        assert theirs not in of_first
    for theirs in ("Ada First", "ada@first.example", "FIRST"):
        assert theirs not in of_second


@pytest.mark.django_db
def test_a_stay_is_whole_whose_it_was_and_not_the_next_owner_s(piece: Piece) -> None:
    """Brought on 3 March, read on the 8th, fetched in the evening of the 9th; then sold, with no later record."""
    assert piece.boutique
    Boutique.objects.filter(pk=piece.boutique.pk).update(time_zone="America/Los_Angeles")
    piece = Piece.objects.select_related("boutique", "owner").get(pk=piece.pk)
    evening = datetime(2025, 3, 10, 0, 30, tzinfo=UTC)  # half past five on the 9th in Los Angeles
    take_in(
        piece, form_key=uuid4(), boutique=piece.boutique, by=StaffFactory(), taken_on=date(2025, 3, 3),
        at=datetime(2025, 3, 3, 18, tzinfo=UTC), as_of=date(2025, 3, 3), asked=[], owner_says="", left_with="",
        sitting=None,
    )  # fmt: skip
    record_sheet(piece, [Reading("CH", Wind.FULL, Decimal("5.0"), None, None)], taken_on=date(2025, 3, 8), by=None)
    piece.refresh_from_db()
    move_piece(piece, to=Place.OWNER, boutique=None, at=evening, by=None)
    before, after = piece.owner, OwnerFactory()
    assert before
    Piece.objects.filter(pk=piece.pk).update(owner=after)
    [of_after] = copy_of(after, now=NOW)["watches"]
    assert (of_after["moves"], of_after["readings"]) == ([], [])
    [of_before] = copy_of(before, now=NOW)["watches_before"]
    assert [one["taken_on"] for one in of_before["readings"]] == ["2025-03-08"]
    handed_back = "Handed back to you"
    assert handed_back not in text_of_pdf(data_paper(after, now=NOW))
    assert handed_back in text_of_pdf(data_paper(before, now=NOW))


@pytest.mark.django_db
def test_the_days_of_moments_on_the_copy_to_read_are_the_owner_s(piece: Piece) -> None:
    """Four in the afternoon of the 5th in London is the 6th in Tokyo."""
    owner = piece.owner
    assert owner
    owner.time_zone = "Asia/Tokyo"
    owner.save()
    made = datetime(2026, 6, 5, 16, tzinfo=UTC)
    with time_machine.travel(made, tick=False):
        leave_trail(by=None, deed="owner_corrects", subject=f"owner:{owner.code}", before={"phone": "1"}, after={})
        text = text_of_pdf(data_paper(owner, now=made))
    assert text.count("6 June 2026") == 2
    assert "5 June 2026" not in text


@given(
    own=st.lists(st.dates(date(2000, 1, 1), date(2030, 1, 1)), min_size=1),
    others=st.lists(st.dates(date(2000, 1, 1), date(2030, 1, 1))),
    day=st.dates(date(1999, 1, 1), date(2031, 1, 1)),
)
def test_no_day_of_two_owners_is_both_theirs(own: list[date], others: list[date], day: date) -> None:
    """Whatever the records are: what one who sold the piece sees, who has it now does not see."""
    records = [(one, 1) for one in own] + [(one, 2) for one in others]
    former, present = own_time(records, 1, still=False), own_time(records, 2, still=True)
    assert former is not None
    assert present is not None
    assert not (former.holds(day) and present.holds(day))


@pytest.mark.django_db
def test_a_copy_is_written_down_and_a_sixth_in_a_day_is_refused(client: Client, sent: Sent) -> None:
    for _number in range(5):
        assert take_copy(client, sent).status_code == 200
    refused = take_copy(client, sent)
    assert refused.status_code == 429
    assert "You can take 5 copies a day" in refused.content.decode()
    assert OwnerRequest.objects.filter(kind="copy", state="done").count() == 5
    assert Trail.objects.filter(deed="asks_copy", subject=f"owner:{sent.letter.owner.code}").count() == 5
    cache.clear()
    with time_machine.travel(NOW + timedelta(days=1), tick=False):
        assert take_copy(client, sent).status_code == 200


@pytest.mark.django_db
def test_a_look_at_the_address_of_the_copy_makes_none(client: Client, sent: Sent) -> None:
    open_pages(client, sent)
    assert client.get(f"{sent.address}data/copy/").status_code == 302
    assert take_copy(client, sent, "xlsx").status_code == 400
    assert not OwnerRequest.objects.exists()


# --- what owners ask, and the desk decides --------------------------------------------------------------------


def ask(client: Client, sent: Sent, kind: str, **said: str) -> Any:
    return client.post(f"{sent.address}data/ask/", {"kind": kind} | said)


def seen_on(desk: Client, asked: OwnerRequest) -> str:
    """What the form on the desk's page says of the words that stand above it."""
    page = desk.get(f"/owners/{asked.pk}/").content.decode()
    found = re.search(r'name="seen" value="([^"]+)"', page)
    assert found
    return found[1]


def decide(desk: Client, asked: OwnerRequest, state: str, reason: str, seen: str | None = None) -> Any:
    """Open the page and press one of its buttons; with `seen`, on a page that was opened before."""
    shown = seen if seen is not None else seen_on(desk, asked)
    return desk.post(f"/owners/{asked.pk}/", {"state": state, "reason": reason, "seen": shown})


@pytest.mark.django_db
def test_who_asks_for_erasure_gets_no_more_letters_from_that_moment(client: Client, sent: Sent) -> None:
    assert [ask(client, sent, "erasure").status_code for _ in range(2)] == [302, 302]
    assert Owner.objects.get(pk=sent.letter.owner_id).letters is False
    assert Answer.objects.filter(choice="no_more_letters").count() == 1
    asked = OwnerRequest.objects.get(kind="erasure")
    assert (asked.state, asked.due_on) == ("open", date(2026, 7, 5))
    open_pages(client, sent)
    text = words_of(client, f"{sent.address}data/")
    assert "A person looks at it and answers by 5 July 2026." in text
    assert "Erase my data" not in text


@pytest.mark.django_db
def test_a_correction_needs_words(client: Client, sent: Sent) -> None:
    answer = ask(client, sent, "correction", said="  ")
    assert answer.status_code == 422
    assert not OwnerRequest.objects.exists()


@pytest.mark.django_db
def test_the_desk_sees_the_request_and_the_owner_reads_the_answer(
    client: Client, sent: Sent, signed_in: Callable[..., Client]
) -> None:
    ask(client, sent, "correction", said="The strap was changed in 2024.")
    desk = signed_in("desk")
    asked = OwnerRequest.objects.get()
    assert "Asks for a correction" in words_of(desk, "/owners/")
    text = words_of(desk, f"/owners/{asked.pk}/")
    assert "The strap was changed in 2024." in text
    assert "Correct what is wrong in the book first" in text
    assert decide(desk, asked, "done", " ").status_code == 422
    assert decide(desk, asked, "done", "Corrected.").status_code == 302
    open_pages(client, sent)
    text = words_of(client, f"{sent.address}data/")
    assert "This is done. Corrected." in text
    kept = Trail.objects.get(deed="decides_correction")
    assert (kept.before, kept.after, kept.reason) == ({"state": "open"}, {"state": "done"}, "Corrected.")
    assert kept.by is not None


@pytest.mark.django_db
@pytest.mark.parametrize(("state", "name"), [("done", "أدا وينتر"), ("declined", "Ada Winter")])
def test_a_name_is_written_otherwise_only_once_a_person_agreed(
    client: Client, piece: Piece, signed_in: Callable[..., Client], state: str, name: str
) -> None:
    piece.owner = OwnerFactory(name="Ada Winter")
    piece.save()
    sent = send_about(piece)
    client.post(f"{sent.address}details/name/", {"said": "أدا وينتر"})
    owner = Owner.objects.get(pk=piece.owner.pk)
    assert owner.name == "Ada Winter"
    open_pages(client, sent)
    assert "You asked us to write it as أدا وينتر" in words_of(client, f"{sent.address}details/")
    asked = OwnerRequest.objects.get()
    decide(signed_in("desk"), asked, state, "Seen on the card.")
    owner.refresh_from_db()
    assert owner.name == name
    assert owner.name_key == name_key(name)


@pytest.mark.django_db
def test_two_at_the_desk_decide_once(client: Client, sent: Sent, signed_in: Callable[..., Client]) -> None:
    ask(client, sent, "correction", said="Wrong.")
    asked = OwnerRequest.objects.get()
    looked = [(signed_in("desk"), state) for state in ("done", "declined")]
    seen = seen_on(looked[0][0], asked)
    for desk, state in looked:
        decide(desk, asked, state, "Seen.", seen=seen)
    asked.refresh_from_db()
    assert asked.state == "done"
    assert Trail.objects.filter(deed="decides_correction").count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize("state", ["done", "declined"])
def test_the_desk_decides_what_stood_before_it_and_nothing_that_came_since(
    client: Client, piece: Piece, signed_in: Callable[..., Client], state: str
) -> None:
    piece.owner = OwnerFactory(name="Ada Winter")
    piece.save()
    sent, desk = send_about(piece), signed_in("desk")
    client.post(f"{sent.address}details/name/", {"said": "Ada M. Winter"})
    asked = OwnerRequest.objects.get()
    seen = seen_on(desk, asked)
    client.post(f"{sent.address}details/name/", {"said": "Somebody Else"})
    answer = decide(desk, asked, state, "Seen on the card.", seen)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "The owner wrote something else meanwhile" in text
    assert "Somebody Else" in text
    assert "Seen on the card." in text
    asked.refresh_from_db()
    assert asked.state == "open"
    assert Owner.objects.get(pk=piece.owner.pk).name == "Ada Winter"
    # What is on that page now has been looked at: the same button decides it.
    again = re.search(r'name="seen" value="([^"]+)"', text)
    assert again
    assert decide(desk, asked, state, "Seen on the card.", again[1]).status_code == 302
    assert Owner.objects.get(pk=piece.owner.pk).name == ("Somebody Else" if state == "done" else "Ada Winter")


@pytest.mark.django_db
def test_a_decision_that_does_not_say_what_it_saw_decides_nothing(
    client: Client, sent: Sent, signed_in: Callable[..., Client]
) -> None:
    ask(client, sent, "correction", said="Wrong.")
    asked = OwnerRequest.objects.get()
    answer = signed_in("desk").post(f"/owners/{asked.pk}/", {"state": "done", "reason": "Seen."})
    assert answer.status_code == 422
    asked.refresh_from_db()
    assert asked.state == "open"


@pytest.mark.django_db
def test_a_further_correction_is_added_below_the_first(
    client: Client, sent: Sent, signed_in: Callable[..., Client]
) -> None:
    desk = signed_in("desk")
    ask(client, sent, "correction", said="The strap was changed in 2024.")
    asked = OwnerRequest.objects.get()
    seen = seen_on(desk, asked)
    for _number in range(2):  # pressed twice, it stands once
        ask(client, sent, "correction", said="The bezel is steel.")
    ask(client, sent, "correction", said="The strap was changed in 2024.")
    asked = OwnerRequest.objects.get()
    assert asked.said == "The strap was changed in 2024.\n\nThe bezel is steel."
    assert asked.due_on == date(2026, 7, 5)
    assert decide(desk, asked, "done", "Corrected.", seen).status_code == 422
    open_pages(client, sent)
    text = words_of(client, f"{sent.address}data/")
    assert "The strap was changed in 2024. The bezel is steel." in text
    added = Trail.objects.filter(deed="asks_correction").order_by("pk")
    assert [one.after["said"] for one in added] == ["The strap was changed in 2024.", "The bezel is steel."]


@pytest.mark.django_db
def test_a_request_that_is_full_takes_no_more_and_loses_nothing_that_was_typed(client: Client, sent: Sent) -> None:
    words = [f"{number} " + "x" * 1_990 for number in range(6)]
    assert [ask(client, sent, "correction", said=one).status_code for one in words] == [302] * 5 + [422]
    asked = OwnerRequest.objects.get()
    assert asked.said == "\n\n".join(words[:5])
    answer = ask(client, sent, "correction", said=words[5])
    assert "A person looks first at what you asked before" in answer.content.decode()
    assert words[5] in answer.content.decode()
    assert ask(client, sent, "correction", said=words[0]).status_code == 302  # it stands there already


@pytest.mark.django_db
def test_the_desk_sees_what_an_owner_changed_before_and_after(
    client: Client, sent: Sent, signed_in: Callable[..., Client]
) -> None:
    owner = sent.letter.owner
    details = {"email": owner.email, "phone": "+41 44 000 00 00", "country": "GB", "language": "en", "address": ""}
    client.post(f"{sent.address}details/", details)
    desk = signed_in("desk")
    assert "Corrected their particulars telephone" in words_of(desk, "/owners/")
    text = words_of(desk, f"/owners/{OwnerRequest.objects.get().pk}/")
    assert f"Telephone: {owner.phone} → +41 44 000 00 00" in text


@pytest.mark.django_db
def test_boutiques_and_benches_do_not_see_what_owners_ask(sent: Sent, signed_in: Callable[..., Client]) -> None:
    for role in ("boutique", "watchmaker"):
        assert signed_in(role).get("/owners/").status_code == 403
