"""A new piece and a new owner at the counter; whatever looks like them is offered first."""

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from uuid import uuid4

import pytest
from django.db import connections
from django.test import Client
from django.urls import reverse

from service_center.access.models import Trail
from service_center.book.models import Owner, Piece
from service_center.intake.models import Draft
from service_center.intake.newcomers.queries import like_owners, like_pieces
from service_center.intake.rules.similar import similar_keys
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter, Reminder
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory, WatchModelFactory

pytestmark = pytest.mark.django_db

DAY = date(2026, 3, 10)
OWNER = {"name": "Zenobia Quillfeather", "phone": "+44 20 7946 0999", "email": "zq@owners.example", "language": "en"}


@pytest.fixture
def here():
    return BoutiqueFactory(code="HARROW", name="Harrowmere")


@pytest.fixture
def counter(signed_in, here):
    return signed_in("boutique", here.code)


def write(client, **fields):
    return client.post(reverse("intake:new_piece"), {"serial": "FH21-000900", "form_key": uuid4(), **OWNER, **fields})


def say_owner(client, piece, *, back="", **fields):
    where = reverse("intake:owner_of", args=[piece.pk]) + back
    return client.post(where, {"form_key": uuid4(), **OWNER, **fields})


def tapped_twice_at_once(client, where, fields):
    """Where both answers lead."""

    def tap(_nth):
        mine = Client()
        mine.cookies = client.cookies
        try:
            answer = mine.post(where, fields)
            return answer.status_code, answer.headers.get("Location")
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as taps:
        return set(taps.map(tap, range(2)))


@pytest.mark.parametrize(
    ("read", "meant"),
    [("FH21000124", "FH21000123"), ("FH2100123", "FH21000123"), ("FH210000123", "FH21000123"), ("FH21000132", "FH21000123"), ("FHZ1000123", "FH21000123")],
)  # fmt: skip
def test_one_slip_of_the_eye_is_similar(read, meant):
    assert meant in similar_keys(read)


@pytest.mark.parametrize("key", ["", "FH1", "X" * 25])
def test_what_is_too_short_or_long_to_say_is_similar_to_nothing(key):
    assert similar_keys(key) == frozenset()


def test_two_slips_are_another_serial_and_none_is_itself():
    assert "FH21000145" not in similar_keys("FH21000123")
    assert "FH21000123" not in similar_keys("FH21000123")


def test_a_new_piece_with_a_new_owner_is_written_down_and_its_drop_off_begins(counter, here):
    model = WatchModelFactory()
    answer = write(counter, model=model.pk, sold_on="2024-02-29", letters="yes", country="GB")
    piece = Piece.objects.get()
    assert (piece.serial, piece.serial_key, piece.boutique, piece.model) == ("FH21-000900", "FH21000900", here, model)
    assert piece.sold_on == date(2024, 2, 29)
    assert (piece.owner.name, piece.owner.letters, piece.owner.phone_key) == (OWNER["name"], True, "99906497" + "0244")
    assert piece.due_dates.exists()
    assert answer.headers["Location"] == reverse("intake:started", args=[Draft.objects.get().pk])
    assert set(Trail.objects.values_list("deed", flat=True)) >= {"add_piece", "add_owner"}


def test_the_same_serial_however_it_is_written_is_never_written_twice(counter, here):
    known = PieceFactory(serial="FH21-000900", boutique=here)
    answer = write(counter, serial="fh21 000900")
    assert answer.status_code == 422
    assert reverse("intake:drop_off", args=[known.pk]) in answer.content.decode()
    assert Piece.objects.count() == 1


def test_a_serial_one_slip_away_is_offered_before_a_second_record_is_made(counter, here):
    near = PieceFactory(serial="FH21-000901", boutique=here)
    answer = write(counter)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert near.serial in page
    assert not Piece.objects.exclude(pk=near.pk).exists()
    tick = re.search(r'name="another" value="(\w+)"', page)[1]
    write(counter, another=tick)
    assert Piece.objects.filter(serial="FH21-000900").exists()


def test_another_boutiques_near_serial_is_told_of_but_not_told(counter):
    elsewhere = PieceFactory(serial="FH21-000901", owner=OwnerFactory(name="Somebody Elsewhere"))
    page = write(counter).content.decode()
    assert "1 piece of another boutique" in page
    assert elsewhere.serial not in page
    assert "Somebody" not in page


@pytest.mark.parametrize(
    "said", [{"email": "ZQ@Owners.example"}, {"phone": "020 7946 0999"}, {"name": "quillfeather  zenobia"}, {"name": "Zenobia QUILLFEATHER"}]
)  # fmt: skip
def test_an_owner_with_the_same_name_telephone_or_e_mail_is_offered(counter, here, said):
    known = OwnerFactory(name=OWNER["name"], phone=OWNER["phone"], email=OWNER["email"])
    PieceFactory(owner=known, boutique=here)
    other = {"name": "Someone", "phone": "+33 1 00 00 00 00", "email": "else@owners.example", **said}
    answer = write(counter, **other)
    assert answer.status_code == 409
    assert f'value="{known.pk}"' in answer.content.decode()
    write(counter, who=str(known.pk), **other)
    assert Piece.objects.get(serial="FH21-000900").owner == known
    assert Owner.objects.filter(pieces__boutique=here).distinct().count() == 1


def test_somebody_else_of_the_same_name_is_a_new_owner(counter, here):
    PieceFactory(owner=OwnerFactory(name=OWNER["name"]), boutique=here)
    write(counter, who="somebody_else")
    assert Owner.objects.filter(name=OWNER["name"]).count() == 2


def test_another_boutiques_owner_is_offered_where_two_agree_without_a_word_of_theirs(counter):
    known = OwnerFactory(name=OWNER["name"], phone="+44 20 7946 0555", email=OWNER["email"])
    PieceFactory(owner=known)
    page = write(counter, phone="+33 1 00 00 00 00").content.decode()
    assert "The same person, known at another boutique" in page
    assert "0555" not in page


def test_another_boutiques_owner_is_not_told_by_one_of_the_three(counter):
    PieceFactory(owner=OwnerFactory(name=OWNER["name"], phone="", email="other@owners.example"))
    write(counter)
    assert Piece.objects.filter(serial="FH21-000900").exists()


def test_an_owner_that_was_not_offered_cannot_be_chosen(counter):
    stranger = OwnerFactory()
    write(counter, who=str(stranger.pk))
    assert Piece.objects.get(serial="FH21-000900").owner != stranger


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"serial": "--"}, "at least three letters or digits"),
        ({"name": ""}, "This field is required."),
        ({"email": "not an address"}, "This is no e-mail address."),
        ({"email": "", "phone": ""}, "Note a telephone or an e-mail"),
        ({"sold_on": "2199-01-01"}, "That day is still to come."),
        ({"language": "xx"}, "xx is not one of the available choices"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_typed_is_lost(counter, fields, said):
    answer = write(counter, **{"country": "FR", **fields})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert '<option value="FR" selected>' in page
    assert not Piece.objects.exists()


def test_a_piece_without_an_owner_gets_one_and_letters_to_an_earlier_owner_end(counter, here):
    piece = PieceFactory(serial="FH21-000123", boutique=here, owner=None)
    where = reverse("intake:owner_of", args=[piece.pk])
    assert "Whose is it?" in counter.get(where).content.decode()
    say_owner(counter, piece)
    piece.refresh_from_db()
    first = piece.owner
    assert first.name == OWNER["name"]
    say_owner(counter, piece, name="Otto Fernsby", email="of@owners.example", phone="+44 161 496 0000")
    piece.refresh_from_db()
    assert piece.owner.name == "Otto Fernsby"
    trail = Trail.objects.filter(deed="change_owner").latest("pk")
    assert (trail.before["owner"], trail.after["owner"]) == (first.code, piece.owner.code)


def test_a_piece_sold_on_ends_the_letter_that_waits_and_leads_back_to_its_page(signed_in, here):
    piece = PieceFactory(boutique=here)
    recompute([piece.pk], as_of=DAY)
    letter = Letter.objects.create(
        owner=piece.owner, language="en", planned_on=DAY, not_before=datetime(2026, 3, 11, tzinfo=UTC)
    )
    due = DueDate.objects.get(piece=piece, kind="overhaul")
    Reminder.objects.create(
        piece=piece, kind="overhaul", starts_on=due.starts_on, step="invitation", letter=letter, due_on=due.due_on
    )
    answer = say_owner(signed_in("desk"), piece, back="?back=piece", who="somebody_else")
    assert (answer.status_code, answer["Location"]) == (302, reverse("pieces:piece", args=[piece.pk]))
    letter.refresh_from_db()
    assert (letter.state, letter.reason) == ("ended", "belongs to somebody else now")


def test_a_second_tap_on_a_new_owner_makes_no_other_owner(counter, here):
    before, key = OwnerFactory(), uuid4()
    piece = PieceFactory(boutique=here, owner=before)
    answers = [say_owner(counter, piece, form_key=key) for _tap in range(2)]
    assert {(one.status_code, one["Location"]) for one in answers} == {
        (302, reverse("intake:started", args=[Draft.objects.get().pk]))
    }
    assert Owner.objects.filter(name=OWNER["name"]).count() == 1
    assert Trail.objects.filter(deed="change_owner").count() == 1


def test_an_owner_form_that_is_sent_late_does_not_undo_what_was_said_since(counter, here):
    known, piece, key = OwnerFactory(name=OWNER["name"]), PieceFactory(boutique=here), uuid4()
    PieceFactory(owner=known, boutique=here)
    say_owner(counter, piece, form_key=key, who=str(known.pk))
    say_owner(counter, piece, name="Otto Fernsby", email="of@owners.example", phone="+44 161 496 0000")
    say_owner(counter, piece, form_key=key, who=str(known.pk))
    piece.refresh_from_db()
    assert piece.owner.name == "Otto Fernsby"


def test_a_name_that_is_mended_and_sent_from_the_same_page_is_asked_about(counter, here):
    piece, key = PieceFactory(boutique=here, owner=None), uuid4()
    say_owner(counter, piece, form_key=key, name="Zenobia Quilfeather")
    answer = say_owner(counter, piece, form_key=key)
    assert answer.status_code == 409
    assert "The book may know this person." in answer.content.decode()


def test_a_second_tap_on_a_new_piece_leads_to_its_drop_off(counter):
    key = uuid4()
    answers = [write(counter, form_key=key) for _tap in range(2)]
    assert {(one.status_code, one["Location"]) for one in answers} == {
        (302, reverse("intake:started", args=[Draft.objects.get().pk]))
    }
    assert Owner.objects.count() == Piece.objects.count() == 1


def test_the_same_piece_from_another_page_is_told_to_be_there(counter):
    write(counter)
    assert "The book has a piece with this serial" in write(counter).content.decode()


def test_the_page_of_a_new_owner_has_a_key_of_its_own(counter, here):
    where = reverse("intake:owner_of", args=[PieceFactory(boutique=here).pk])
    keys = [re.search(r'name="form_key" value="([\w-]{36})"', counter.get(where).content.decode())[1] for _ in range(2)]
    assert len(set(keys)) == 2
    wrong = counter.post(where, {**OWNER, "form_key": keys[0], "name": ""}).content.decode()
    assert f'name="form_key" value="{keys[0]}"' in wrong


@pytest.mark.django_db(transaction=True)
def test_two_taps_at_once_on_a_new_owner_make_one(counter, here):
    piece = PieceFactory(boutique=here)
    where = reverse("intake:owner_of", args=[piece.pk])
    answers = tapped_twice_at_once(counter, where, {**OWNER, "form_key": uuid4()})
    assert answers == {(302, reverse("intake:started", args=[Draft.objects.get().pk]))}
    assert Owner.objects.filter(name=OWNER["name"]).count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_taps_at_once_on_a_new_piece_make_one(counter):
    fields = {"serial": "FH21-000900", "form_key": uuid4(), **OWNER}
    answers = tapped_twice_at_once(counter, reverse("intake:new_piece"), fields)
    assert answers == {(302, reverse("intake:started", args=[Draft.objects.get().pk]))}
    assert Owner.objects.count() == Piece.objects.count() == 1


def test_a_piece_may_be_with_nobody_knows_whom(signed_in, here):
    piece, desk = PieceFactory(boutique=here), signed_in("desk")
    desk.post(reverse("intake:owner_of", args=[piece.pk]) + "?back=piece", {"nobody": "yes"})
    piece.refresh_from_db()
    assert piece.owner is None
    assert "Nobody knows any more who has it" in desk.get(reverse("pieces:piece", args=[piece.pk])).content.decode()


def test_of_a_stolen_piece_nobody_says_whose_it_is(counter, here):
    piece = PieceFactory(boutique=here, status="stolen")
    assert counter.get(reverse("intake:owner_of", args=[piece.pk])).status_code == 404


def test_looking_for_look_alikes_costs_a_few_statements(django_assert_max_num_queries, here):
    PieceFactory(serial="FH21-000901", boutique=here)
    staff = StaffFactory(role="boutique", boutique=here.code)
    with django_assert_max_num_queries(3):
        like_pieces("FH21-000900", staff)
    with django_assert_max_num_queries(5):
        like_owners(**{name: OWNER[name] for name in ("name", "phone", "email")}, staff=staff)
