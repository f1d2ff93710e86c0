"""Whoever was erased stays erased: a backup of before is brought back, or a file of owners still names them."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from service_center.book.models import Owner, Piece
from service_center.exchange.actions import import_book
from service_center.intake.models import Draft, Visit
from service_center.letters.models import Letter
from service_center.owner_pages import erasure_journal
from service_center.owner_pages.actions import CannotEraseNowError, erase, replay_erasures
from service_center.owner_pages.models import ErasedAddress
from service_center.owner_pages.rules.erased import Erased, erased_by, hash_of, may_be
from tests.access.walk import World
from tests.factories import OwnerFactory, StaffFactory
from tests.owner_pages.test_erasing import (
    EMAIL,
    LONG_AFTER,
    NAME,
    NOW,
    PHONE,
    TODAY,
    everything_written,
    where_they_stand,
    world,
)

__all__ = ["world"]
HEADER = "owner,name,email,phone,language,country,time_zone,letters\n"


@pytest.fixture(autouse=True)
def journal(settings: Any, tmp_path: Path) -> Path:
    settings.DATA_DIR = tmp_path
    return tmp_path / "erased.journal"


class Restored(Exception):  # noqa: N818  # it is what happens
    """The database is as it was before."""


def erased_then_restored(owner: Owner, on: date = LONG_AFTER) -> None:
    """An erasure is done, and the database of before brought back; the journal stays."""
    with pytest.raises(Restored), transaction.atomic():
        erase(owner, on=on, by=StaffFactory(role="manager"), now=NOW)
        raise Restored
    owner.refresh_from_db()
    assert owner.name == NAME


def written() -> list[Erased]:
    return [one for one in erasure_journal.read(erasure_journal.file()) if isinstance(one, Erased)]


def test_the_journal_has_a_line_an_erasure_and_nothing_by_which_a_person_is_named(world: World, journal: Path) -> None:
    owner = world.piece.owner
    assert owner is not None
    erase(owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    [line] = written()
    assert (line.owner, line.on, line.at) == (owner.code, TODAY, NOW)
    text = journal.read_text().lower()
    assert not [word for word in (NAME, "Quillfeather", EMAIL, PHONE) if word.lower() in text]
    assert journal.stat().st_mode & 0o077 == 0, "for the site's own user alone"


def test_an_owner_erased_after_the_backup_is_erased_again_and_once(world: World) -> None:
    owner = world.piece.owner
    assert owner is not None
    erased_then_restored(owner)
    assert where_they_stand()
    told = replay_erasures(written(), now=NOW)
    assert (told.erased, told.known, told.unlike, told.here) == ([owner.code], 0, [], [])
    assert not where_they_stand()
    owner.refresh_from_db()
    assert (owner.erased_on, owner.letters) == (LONG_AFTER, False)
    again = replay_erasures(written(), now=NOW)
    assert (again.erased, again.known) == ([], 1)


def test_what_the_backup_has_as_under_way_does_not_keep_them(world: World) -> None:
    owner = world.piece.owner
    assert owner is not None
    erased_then_restored(owner)
    Visit.objects.filter(owner=owner).update(state="booked")
    Letter.objects.filter(owner=owner).update(state="in_doubt")
    Piece.objects.filter(pk=world.piece.pk).update(place="workshop")
    told = replay_erasures(written(), now=NOW)
    assert (told.erased, told.here) == ([owner.code], [owner.code])
    assert not where_they_stand()
    assert set(Visit.objects.filter(owner=owner).values_list("state", flat=True)) == {"cancelled"}
    assert set(Letter.objects.filter(owner=owner).values_list("state", flat=True)) == {"ended"}
    assert not Draft.objects.filter(piece=world.piece, ended_at=None).exists()


def test_an_owner_whom_the_backup_lacks_is_kept_as_erased_and_no_file_brings_them_in(
    world: World, tmp_path: Path
) -> None:
    gone = erased_by("LATER-1", emails=[EMAIL], names=[NAME], on=TODAY, at=NOW, secret="another secret")
    assert replay_erasures([gone], now=NOW).kept == 1
    (tmp_path / "owners.csv").write_text(f"{HEADER}LATER-1,{NAME},{EMAIL},{PHONE},en,GB,Europe/London,yes\n")
    result = import_book(tmp_path, dry_run=False, by=None, as_of=TODAY)
    assert result.warnings.count == 1
    assert Owner.objects.get(code="LATER-1").name == ""


def test_a_code_that_was_given_to_somebody_else_erases_nobody(world: World) -> None:
    owner = world.piece.owner
    assert owner is not None
    erased_then_restored(owner)
    Owner.objects.filter(pk=owner.pk).update(name="Ben Marlby", email="ben@marlby.example")
    assert replay_erasures(written(), now=NOW).unlike == [owner.code]
    owner.refresh_from_db()
    assert (owner.name, owner.erased_on) == ("Ben Marlby", None)


def test_without_the_secret_of_the_line_its_code_counts() -> None:
    line = erased_by("O1", emails=[EMAIL], names=[NAME], on=TODAY, at=NOW, secret="of then")
    who = {"email": "zyxa@other.example", "name": "Zyxa Other"}
    assert may_be(line, **who, secrets=["of now"])
    assert not may_be(line, **who, secrets=["of now", "of then"])
    assert may_be(line, email=EMAIL.upper(), name="Zyxa Other", secrets=["of now", "of then"])
    assert may_be(replace(line, emails=(), names=()), **who, secrets=["of then"])


def test_where_the_disk_is_full_nobody_is_erased_and_nothing_is_half_done(world: World, journal: Path) -> None:
    """/dev/full takes no byte: "no space left on device"."""
    owner, manager = world.piece.owner, StaffFactory(role="manager")
    assert owner is not None
    before = sorted(everything_written())
    journal.symlink_to("/dev/full")
    with pytest.raises(CannotEraseNowError, match="journal"):
        erase(owner, on=TODAY, by=manager, now=NOW)
    assert sorted(everything_written()) == before
    journal.unlink()
    erase(owner, on=TODAY, by=manager, now=NOW)
    assert [one.owner for one in written()] == [owner.code]
    owner.refresh_from_db()
    assert owner.erased_on == TODAY


def test_a_manager_is_told_that_the_disk_is_full_and_what_was_typed_stays(
    world: World, journal: Path, signed_in: Callable[..., Client]
) -> None:
    journal.symlink_to("/dev/full")
    assert world.piece.owner is not None
    address = reverse("owners:erase", args=[world.piece.owner_id])
    page = signed_in("manager").post(address, {"code": world.piece.owner.code}, follow=True)
    assert "The disk did not take the erasure" in page.content.decode()
    world.piece.owner.refresh_from_db()
    assert world.piece.owner.erased_on is None


def test_a_line_that_a_power_cut_tore_hides_no_other(world: World, journal: Path) -> None:
    journal.write_text('\n{"erased": "O7", "on": "20')
    erase(world.piece.owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    torn, whole = list(erasure_journal.read(journal))
    assert isinstance(torn, erasure_journal.BadLine)
    assert isinstance(whole, Erased)


def test_a_file_that_has_them_under_another_code_brings_no_particulars_and_no_letters(
    world: World, tmp_path: Path
) -> None:
    erase(world.piece.owner, on=LONG_AFTER, by=StaffFactory(role="manager"), now=NOW)
    (tmp_path / "owners.csv").write_text(
        f"{HEADER}N-1,{NAME},{EMAIL.upper()},{PHONE},en,GB,Europe/London,yes\n"
        "N-2,Ben Marlby,ben@marlby.example,,en,GB,Europe/London,yes\n"
    )
    result = import_book(tmp_path, dry_run=False, by=None, as_of=TODAY)
    [warned] = result.warnings.first
    assert (warned.line, warned.column) == (2, "email")
    assert "erased from the book with its owner" in warned.reason
    came, other = Owner.objects.get(code="N-1"), Owner.objects.get(code="N-2")
    assert (came.name, came.email, came.phone, came.name_key, came.letters) == ("", "", "", "", False)
    assert (other.name, other.letters) == ("Ben Marlby", True)
    assert not where_they_stand()
    again = import_book(tmp_path, dry_run=False, by=None, as_of=TODAY)
    assert (again.counts["owners"].changed, again.counts["owners"].same) == (0, 2)


def test_somebody_who_came_back_and_was_written_in_at_the_counter_is_an_owner_like_any_other(
    world: World, tmp_path: Path
) -> None:
    erase(world.piece.owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    OwnerFactory(code="N-1", name=NAME, email=EMAIL, phone=PHONE, letters=True)
    (tmp_path / "owners.csv").write_text(f"{HEADER}N-1,{NAME},{EMAIL},{PHONE},en,GB,Europe/London,yes\n")
    assert import_book(tmp_path, dry_run=False, by=None, as_of=TODAY).warnings.count == 0
    assert Owner.objects.get(code="N-1").letters is True


def test_an_address_that_two_shared_stays_the_other_ones(world: World, settings: Any) -> None:
    OwnerFactory(name="Ben Marlby", email=EMAIL)
    erase(world.piece.owner, on=TODAY, by=StaffFactory(role="manager"), now=NOW)
    assert not ErasedAddress.objects.filter(hash=hash_of("email", EMAIL, settings.SECRET_KEY)).exists()
