"""An owner is erased: nothing of theirs stands anywhere, and everything of the piece does (GDPR, Art. 17)."""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import Error, connection
from django.db.models import BinaryField, CharField, JSONField, TextField
from django.test import Client
from django.urls import reverse

from service_center.access.erasing import door_open
from service_center.access.models import ErasureDoor, Staff, Trail
from service_center.book.actions import move_piece, set_postal_address
from service_center.book.models import Custody, HistoryEntry, Owner, Piece
from service_center.book.rules import Place
from service_center.exchange.actions import export_book, import_book
from service_center.guarantee.rules import Finding
from service_center.intake.mailing import mail_receipt_of
from service_center.intake.models import DropOff, Signature, Visit
from service_center.letters.actions import note_reached
from service_center.letters.models import (
    AddressLifted,
    DeliveryReport,
    Letter,
    LetterGround,
    OrderWord,
    OwnerLink,
    ReturnedMail,
    StoppedAddress,
)
from service_center.letters.rules.words import Channel
from service_center.owner_pages.actions import CannotEraseNowError, ask, erase, put_away
from service_center.owner_pages.erasure import Obstacle
from service_center.owner_pages.models import OwnerRequest
from service_center.owner_pages.rules import RequestKind
from service_center.workshop.models import EstimateAnswer, OrderEstimate, OrderMove, WorkOrder
from service_center.workshop.orders.actions import add_finding
from tests.access.walk import World
from tests.factories import OwnerFactory, PieceFactory, StaffFactory, history

NAME, EMAIL, PHONE, STREET = "Zyxa Quillfeather", "zyxa@quill.example", "+44 20 7946 7777", "7 Quill Lane"
THEIRS = (NAME, "Quillfeather", EMAIL, PHONE, PHONE.replace(" ", ""), STREET, "loses a minute", "another strap")
TODAY, NOW = date(2026, 6, 9), datetime(2026, 6, 9, 10, tzinfo=UTC)
LONG_AFTER = date(2037, 1, 4)
Signed = Callable[..., Client]


@pytest.fixture
def world(db: None) -> World:
    """An owner who did everything that can be done here, and of whom everything was written that is written."""
    lived = World(PieceFactory(owner=OwnerFactory(name=NAME, email=EMAIL, phone=PHONE)))
    owner, desk = lived.piece.owner, StaffFactory(role="desk")
    assert owner is not None
    set_postal_address(owner, f"{STREET}\nHarrowmere")
    Letter.objects.filter(pk=lived.letter.pk).update(email=EMAIL, reply=f"250 queued for {EMAIL}")
    with door_open():
        Signature.objects.update(text=f"Taken in from {NAME}", name=NAME)
    mail_receipt_of(DropOff.objects.get(pk=lived.drop_off.pk), by=lived.staff, now=NOW)
    Letter.objects.filter(sort="receipt").update(state="sent", email=EMAIL)
    told = Letter.objects.create(
        owner=owner, language="en", planned_on=TODAY, channel="paper", state="held", not_before=NOW
    )
    note_reached(told, Channel.TELEPHONE, on=TODAY, note=f"{NAME} answered.", by=desk)
    mail = ReturnedMail.objects.create(key="k", came_at=NOW, found="report", raw=f"To: <{EMAIL}>".encode())
    ReturnedMail.objects.create(key="l", came_at=NOW, found="auto_reply", raw=f"From: {EMAIL}".encode())
    DeliveryReport.objects.create(
        letter=lived.letter, email=EMAIL, source="mail", happened="failed", happened_at=NOW, status="5.1.1",
        words=f"<{EMAIL}> unknown", fault="address", mail=mail, recorded_at=NOW,
    )  # fmt: skip
    StoppedAddress.objects.create(email=EMAIL, stopped_at=NOW, because=f"550 <{EMAIL}> unknown", letter=lived.letter)
    AddressLifted.objects.create(email=EMAIL, at=NOW, by=desk, reason=f"{NAME} telephoned.")
    history(lived.piece, "2026-06-08", kind="repair", note=f"Crown renewed; told {NAME} at {PHONE}.")
    ask(lived.letter, RequestKind.ERASURE, said=f"Please erase me, {NAME}.", on=TODAY, now=NOW)
    Visit.objects.update(state="came")
    _written_by_the_workshop(WorkOrder.objects.get(piece=lived.piece), by=desk)
    lived.piece.refresh_from_db()
    move_piece(lived.piece, to=Place.OWNER, boutique=None, at=NOW, by=desk, reason=f"Fetched by {NAME}.")
    return lived


def _written_by_the_workshop(order: WorkOrder, *, by: Staff) -> None:
    """All that the workshop can write of somebody at an order."""
    OrderMove.objects.create(order=order, step="received", at=NOW, by=by, place="workshop", reason=f"Sent by {NAME}.")
    order.operations.filter(operation="refinishing").update(unneeded=f"{NAME} keeps the scratches.")
    add_finding(
        order, Finding.WEAR, what=f"Worn, as {NAME} said.", country="GB", on=TODAY, at=NOW, by=by, form_key=uuid4()
    )
    estimate = OrderEstimate.objects.create(
        form_key=uuid4(), order=order, lines=[{"what": f"Overhaul for {NAME}"}], total=1, currency="GBP",
        valid_until=TODAY, note=f"Tell {NAME}.", made_on=TODAY, made_at=NOW, made_by=by,
    )  # fmt: skip
    EstimateAnswer.objects.create(
        estimate=estimate, agreed=False, heard="telephone", heard_by=by, words="I am in hospital.", said_on=TODAY,
        said_at=NOW,
    )  # fmt: skip
    letter = Letter.objects.create(
        owner=order.owner, language="en", planned_on=TODAY, sort="order", state="sent", not_before=NOW
    )
    OrderWord.objects.create(
        letter=letter, news="estimate", number=order.number, key=estimate.pk, piece=order.piece, name="Skerry",
        serial=order.piece.serial, day=TODAY, boutique=order.boutique, total="£1.00", paper=f"Owner: {NAME}".encode(),
    )  # fmt: skip
    WorkOrder.objects.filter(pk=order.pk).update(step="handed_back", closed_on=TODAY)


def everything_written() -> Iterator[tuple[str, str]]:
    """Each text, record and file of every table of the book, as "table.column" and its words."""
    there = connection.introspection.table_names()
    for model in apps.get_models(include_auto_created=True):
        if model._meta.db_table not in there:
            continue
        for column in model._meta.concrete_fields:
            if isinstance(column, CharField | TextField | JSONField | BinaryField):
                for value in model._default_manager.values_list(column.attname, flat=True):
                    text = bytes(value).decode("latin-1") if isinstance(column, BinaryField) and value else str(value)
                    yield f"{model._meta.db_table}.{column.column}", text


def where_they_stand() -> set[str]:
    return {place for place, text in everything_written() if any(word in text for word in THEIRS)}


def test_the_walk_sees_what_there_is_to_erase(world: World) -> None:
    """Where nothing was planted, nothing found would say nothing."""
    assert {
        "book_owner.name", "book_owner.email", "book_owner.phone", "book_postaladdress.lines", "book_custody.reason",
        "book_historyentry.note", "access_trail.after", "letters_letter.email", "letters_letter.reply",
        "letters_returnedmail.raw", "letters_deliveryreport.email", "letters_deliveryreport.words",
        "letters_stoppedaddress.email", "letters_addresslifted.email", "letters_addresslifted.reason",
        "letters_reachedotherwise.note", "letters_mailedreceipt.signed", "letters_orderword.paper", "intake_signature.text",
        "intake_dropoff.owner_says", "owner_pages_ownerrequest.said", "owner_pages_emailchange.before",
    } <= where_they_stand()  # fmt: skip


def test_afterwards_nothing_of_theirs_stands_in_any_table(world: World) -> None:
    owner = world.piece.owner
    assert owner is not None
    erase(owner, on=LONG_AFTER, by=StaffFactory(role="manager"), now=NOW)
    assert where_they_stand() == set()
    assert LetterGround.objects.get(owner=owner).wording == ""
    assert not OwnerLink.objects.filter(withdrawn_at=None).exists()
    asked = OwnerRequest.objects.get(kind="erasure")
    assert (asked.state, asked.said) == ("done", "")
    kept = Trail.objects.get(deed="owner_erased")
    assert (kept.subject, kept.after) == (f"owner:{owner.code}", {"erased_on": "2037-01-04"})


def test_the_piece_keeps_its_facts(world: World) -> None:
    before = (HistoryEntry.objects.count(), Custody.objects.count(), world.piece.serial)
    erase(world.piece.owner, on=LONG_AFTER, by=StaffFactory(role="manager"), now=NOW)
    piece = Piece.objects.get(pk=world.piece.pk)
    assert (HistoryEntry.objects.count(), Custody.objects.count(), piece.serial) == before
    note = HistoryEntry.objects.get(piece=piece, done_on=date(2026, 6, 8)).note
    assert note == "Crown renewed; told — at —."


def test_what_the_law_keeps_is_sealed_and_goes_when_its_time_is_over(world: World, signed_in: Signed) -> None:
    erase(world.piece.owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    assert where_they_stand() == {"intake_signature.text", "intake_signature.name"}
    manager = signed_in("manager")
    page = manager.get(reverse("intake:taken_in", args=[world.drop_off.pk])).content.decode()
    assert world.piece.serial in page
    assert "Quillfeather" not in page
    assert manager.get(reverse("intake:signature", args=[world.drop_off.pk])).status_code == 404
    assert put_away(as_of=date(2036, 6, 5)) == 0
    assert put_away(as_of=date(2036, 6, 6)) == 1
    assert where_they_stand() == set()


def test_no_page_search_or_export_shows_them(world: World, signed_in: Signed, tmp_path: Path) -> None:
    erase(world.piece.owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    manager = signed_in("manager")
    pages = [
        f"/pieces/{world.piece.pk}/", f"/owners/of/{world.piece.owner_id}/", "/owners/", "/letters/all/",
        "/letters/bounces/", "/letters/answers/", f"/letters/{world.letter.pk}/",
        reverse("intake:taken_in", args=[world.drop_off.pk]), "/counter/taken-in/", "/",
    ]  # fmt: skip
    for page in pages:
        text = manager.get(page).content.decode()
        assert not [word for word in THEIRS if word in text], page
    found = manager.get("/search/", {"q": "Quillfeather"}).content.decode()
    assert world.piece.serial not in found
    export_book(tmp_path)
    assert not [word for path in tmp_path.glob("*.csv") for word in THEIRS if word in path.read_text()]


def test_an_import_does_not_bring_them_back(world: World, tmp_path: Path) -> None:
    owner = world.piece.owner
    assert owner is not None
    erase(owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    (tmp_path / "owners.csv").write_text(
        "owner,name,email,phone,language,country,time_zone,letters\n"
        f"{owner.code},{NAME},{EMAIL},{PHONE},en,GB,Europe/London,yes\n"
    )
    result = import_book(tmp_path, dry_run=False, by=None, as_of=TODAY)
    assert [fault.reason for fault in result.warnings.first] == [
        f'"{owner.code}" was erased from the book; this record is left out'
    ]
    assert Owner.objects.get(pk=owner.pk).name == ""


def test_not_while_a_piece_is_here_or_a_letter_is_in_hand(world: World, signed_in: Signed) -> None:
    owner, manager = world.piece.owner, signed_in("manager")
    assert owner is not None
    Letter.objects.filter(pk=world.letter.pk).update(state="handing_over")
    with pytest.raises(CannotEraseNowError, match="letter_in_hand"):
        erase(owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    Letter.objects.filter(pk=world.letter.pk).update(state="sent")
    Piece.objects.filter(pk=world.piece.pk).update(place="workshop")
    address = f"/owners/of/{owner.pk}/erase/"
    assert "hand it back first" in manager.get(address).content.decode()
    assert manager.post(address, {"code": owner.code}).status_code == 422
    owner.refresh_from_db()
    assert (owner.name, owner.erased_on) == (NAME, None)
    assert not OwnerLink.objects.exclude(withdrawn_at=None).exists(), "nothing was done by half"


def test_a_manager_erases_and_types_whom(world: World, signed_in: Signed) -> None:
    owner = world.piece.owner
    assert owner is not None
    address = f"/owners/of/{owner.pk}/erase/"
    assert signed_in("desk").get(address).status_code == 403
    manager = signed_in("manager")
    assert manager.post(address, {"code": "another"}).status_code == 422
    assert manager.post(address, {"code": owner.code}).status_code == 302
    owner.refresh_from_db()
    assert owner.erased_on is not None
    assert "Erased on" in manager.get(f"/owners/of/{owner.pk}/").content.decode()


@pytest.mark.django_db
def test_the_door_opens_for_named_columns_alone_and_is_shut_again() -> None:
    entry = history(PieceFactory(), "2023-03-02", kind="repair", note="Theirs.")
    with pytest.raises(Error, match="facts"), door_open():
        HistoryEntry.objects.filter(pk=entry.pk).update(note="", done_on=date(2024, 1, 1))
    with pytest.raises(Error, match="facts"), door_open(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM book_historyentry")
    with door_open():
        HistoryEntry.objects.filter(pk=entry.pk).update(note="")
    assert not ErasureDoor.objects.exists()
    with pytest.raises(Error, match="facts"):
        HistoryEntry.objects.filter(pk=entry.pk).update(note="Again.")


def test_what_is_known_of_a_shared_address_stays_the_other_ones(world: World) -> None:
    OwnerFactory(name="Ben Marlby", email=EMAIL)
    erase(world.piece.owner, on=LONG_AFTER, by=StaffFactory(role="manager"), now=NOW)
    assert StoppedAddress.objects.filter(email=EMAIL).exists(), "no letter goes where none arrives"
    assert AddressLifted.objects.get().email == EMAIL


def test_what_they_said_to_an_estimate_goes_and_that_they_declined_stays(world: World) -> None:
    assert world.piece.owner is not None
    erase(world.piece.owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    answer = EstimateAnswer.objects.get()
    assert (answer.words, answer.agreed) == ("", False)


def test_a_visit_long_over_that_nobody_marked_keeps_no_erasure_back(world: World) -> None:
    """Booked for a day that is gone where the boutique is: who did not come may be erased all the same."""
    owner, visit = world.piece.owner, Visit.objects.get()
    assert owner is not None
    boutique, manager = visit.boutique, StaffFactory(role="manager")
    boutique.time_zone = "America/Los_Angeles"
    boutique.save()
    Visit.objects.update(state="booked", day=date(2026, 6, 8))
    evening = datetime(2026, 6, 9, 5, tzinfo=UTC)  # ten at night of the 8th at the boutique
    with pytest.raises(CannotEraseNowError) as refused:
        erase(owner, on=TODAY, by=manager, now=evening)
    assert refused.value.because == [Obstacle.VISIT]
    erase(owner, on=TODAY, by=manager, now=datetime(2026, 6, 9, 8, tzinfo=UTC))
    assert Owner.objects.get(pk=owner.pk).erased_on == TODAY
