"""An owner moves and telephones: the desk writes their particulars down, and the trail keeps what stood before."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from service_center.access.models import Trail
from service_center.book.models import Owner, PostalAddress
from service_center.exchange.actions import import_book
from service_center.owner_pages.actions import Details, correct_details, erase
from service_center.owner_pages.desk import owner_views
from service_center.owner_pages.models import EmailChange
from tests.factories import OwnerFactory, PieceFactory, StaffFactory
from tests.owner_pages.conftest import filled_in, send_about, words_of

pytestmark = pytest.mark.django_db
Signed = Callable[..., Client]
HEARD = "Told at the telephone; I called the number we had."


def write(desk: Client, owner: Owner, **said: str) -> int:
    stands = {
        "name": owner.name,
        "email": owner.email,
        "phone": owner.phone,
        "address": "",
        "country": owner.country,
        "language": owner.language,
        "reason": HEARD,
    }
    return desk.post(f"/owners/of/{owner.pk}/correct/", stands | said).status_code


def test_who_moved_is_written_to_at_the_new_place_in_the_new_language(signed_in: Signed) -> None:
    owner, desk = OwnerFactory(), signed_in("desk")
    moved = {"address": "Rue du Quai 4\n1201 Genève", "country": "CH", "language": "fr", "phone": "+41 22 555 01 23"}
    assert write(desk, owner, **moved) == 302
    owner.refresh_from_db()
    assert (owner.country, owner.language, owner.time_zone) == ("CH", "fr", "Europe/Zurich")
    assert owner.phone_key == "32105552214"
    assert PostalAddress.objects.get(owner=owner).lines == "Rue du Quai 4\n1201 Genève"
    kept = Trail.objects.get(deed="desk_corrects")
    assert (kept.before["country"], kept.after["country"], kept.reason) == ("GB", "CH", HEARD)
    assert kept.by is not None
    text = words_of(desk, f"/owners/of/{owner.pk}/")
    assert "Corrected by the desk" in text
    assert HEARD in text


def test_an_address_told_to_the_desk_counts_at_once_and_one_to_be_confirmed_no_more(signed_in: Signed) -> None:
    piece = PieceFactory()
    owner, letter, now = piece.owner, send_about(piece).letter, datetime(2026, 6, 5, 10, tzinfo=UTC)
    said = Details("ada@new.example", owner.phone, "", "en", "GB")
    correct_details(letter, said, on=date(2026, 6, 5), now=now)
    assert write(signed_in("desk"), owner, email="ada@newer.example") == 302
    owner.refresh_from_db()
    assert owner.email == "ada@newer.example"
    assert EmailChange.objects.get().withdrawn_at is not None


def test_a_page_that_was_open_sets_nothing_back_that_the_owner_changed_meanwhile(signed_in: Signed) -> None:
    """Letters went to the old address again, which the owner had just left."""
    owner, desk = OwnerFactory(name="Ada Winter", language="pt-BR"), signed_in("desk")
    shown = filled_in(desk.get(f"/owners/of/{owner.pk}/correct/").content.decode())
    Owner.objects.filter(pk=owner.pk).update(email="ada@new.example", name="Ada M. Winter")
    said = shown | {"phone": "+44 20 7946 0999", "reason": HEARD}
    assert desk.post(f"/owners/of/{owner.pk}/correct/", said).status_code == 302
    owner.refresh_from_db()
    assert (owner.email, owner.name, owner.phone) == ("ada@new.example", "Ada M. Winter", "+44 20 7946 0999")
    assert owner.language == "pt-BR"
    assert set(Trail.objects.get(deed="desk_corrects").before) == {"phone"}


def test_a_name_and_an_address_changed_on_both_sides_are_told(signed_in: Signed) -> None:
    owner, desk = OwnerFactory(name="Ada Winter"), signed_in("desk")
    shown = filled_in(desk.get(f"/owners/of/{owner.pk}/correct/").content.decode())
    Owner.objects.filter(pk=owner.pk).update(email="ada@new.example", name="Ada M. Winter", country="FR")
    said = shown | {"email": "ada@desk.example", "name": "Ada W.", "country": "CH", "reason": HEARD}
    answer = desk.post(f"/owners/of/{owner.pk}/correct/", said)
    assert answer.status_code == 422
    text = answer.content.decode()
    for stands in ("ada@new.example", "Ada M. Winter", "France"):
        assert f"This was changed meanwhile, and is “{stands}” now." in text
    assert not Trail.objects.filter(deed="desk_corrects").exists()
    assert desk.post(f"/owners/of/{owner.pk}/correct/", filled_in(text)).status_code == 302
    owner.refresh_from_db()
    assert (owner.email, owner.name, owner.country) == ("ada@desk.example", "Ada W.", "CH")


def test_an_old_file_of_owners_does_not_undo_what_the_desk_wrote(signed_in: Signed, tmp_path: Path) -> None:
    owner = OwnerFactory(phone="+44 20 7946 0123")
    write(signed_in("desk"), owner, phone="+44 20 7946 0999")
    (tmp_path / "owners.csv").write_text(
        "owner,name,email,phone,language,country,time_zone,letters\n"
        f"{owner.code},{owner.name},{owner.email},+44 20 7946 0123,en,GB,Europe/London,yes\n"
    )
    result = import_book(tmp_path, dry_run=False, by=None, as_of=date(2026, 6, 5))
    assert result.corrections_kept == 1
    owner.refresh_from_db()
    assert owner.phone == "+44 20 7946 0999"


def test_the_same_said_again_writes_nothing(signed_in: Signed) -> None:
    assert write(signed_in("desk"), OwnerFactory()) == 302
    assert not Trail.objects.filter(deed="desk_corrects").exists()


@pytest.mark.parametrize(
    ("said", "refused"),
    [
        ({"email": "ada at owners"}, "Please give one e-mail address"),
        ({"phone": "ask her sister"}, "Please give a telephone number in digits"),
        ({"name": " "}, "Please fill this in."),
        ({"reason": ""}, "Please fill this in."),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_typed_is_lost(
    signed_in: Signed, said: dict[str, str], refused: str
) -> None:
    owner = OwnerFactory()
    stands = {"name": "Ada", "email": "", "phone": "", "address": "Quay 4", "country": "IT", "language": "it"}
    answer = signed_in("desk").post(f"/owners/of/{owner.pk}/correct/", stands | {"reason": HEARD} | said)
    assert answer.status_code == 422
    assert refused in answer.content.decode()
    assert "Quay 4" in answer.content.decode()
    assert not PostalAddress.objects.exists()


def test_counters_and_benches_tell_the_desk_instead(signed_in: Signed) -> None:
    for role in ("boutique", "watchmaker"):
        assert write(signed_in(role), OwnerFactory()) == 403


def test_what_waited_while_a_manager_erased_the_owner_writes_nothing(
    signed_in: Signed, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The erasure commits between the look that opened the page and the deed behind its button."""
    owner, manager = OwnerFactory(name="Ada Winter", phone="+44 20 7946 0123"), StaffFactory(role="manager")
    stands, deed = Owner.objects.get(pk=owner.pk), owner_views.correct_by_desk

    def late(owner: Owner, *args: Any, **more: Any) -> bool:
        erase(owner, on=date(2026, 6, 5), by=manager, now=datetime(2026, 6, 5, 10, tzinfo=UTC))
        return deed(owner, *args, **more)

    monkeypatch.setattr(owner_views, "correct_by_desk", late)
    desk = signed_in("desk")
    assert write(desk, stands, address="Quay 4") == 302
    owner.refresh_from_db()
    assert (owner.name, owner.email, owner.phone) == ("", "", "")
    assert not PostalAddress.objects.exists()
    assert not Trail.objects.filter(deed="desk_corrects").exists()
    assert "Nothing was changed: this owner's data were erased meanwhile." in words_of(desk, f"/owners/of/{owner.pk}/")
