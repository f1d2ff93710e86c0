"""The desk writes down on which ground an owner has letters, and that it was withdrawn."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from service_center.access.models import Trail
from service_center.book.models import Owner
from service_center.exchange.actions import import_book
from service_center.letters import actions
from service_center.letters.actions import ImpossibleGround, set_ground
from service_center.letters.models import Answer, LetterGround, Reminder
from service_center.letters.rules.words import Ground
from service_center.owner_pages.actions import erase
from tests.factories import OwnerFactory, PieceFactory, StaffFactory
from tests.letters.conftest import round_on
from tests.owner_pages.conftest import words_of

Signed = Callable[..., Client]
TOLD = "Asked at the telephone whether we may write when a service is due; she said yes."


def write(desk: Client, owner: Owner, ground: str, on: str, wording: str = TOLD) -> int:
    said = {"ground": ground, "on": on, "wording": wording}
    return desk.post(f"/owners/of/{owner.pk}/ground/", said).status_code


@pytest.mark.django_db
def test_consent_at_the_telephone_turns_letters_on(signed_in: Signed) -> None:
    owner = OwnerFactory(letters=None)
    piece = PieceFactory(owner=owner, model__rated_bar=None)
    assert round_on("2026-03-18").letters == 0
    desk = signed_in("desk")
    assert write(desk, owner, "consent", "2026-03-18") == 302
    assert round_on("2026-03-19").letters == 1
    text = words_of(desk, f"/owners/of/{owner.pk}/")
    assert "18 Mar 2026 Consent" in text
    assert TOLD in text
    assert "Ground: consent, since 18 Mar 2026." in words_of(desk, f"/pieces/{piece.pk}/")
    kept = Trail.objects.get(deed="letter_ground")
    assert (kept.before, kept.after) == (
        {"letters": None, "ground": None}, {"letters": True, "ground": "consent"},
    )  # fmt: skip
    assert kept.by is not None


@pytest.mark.django_db
def test_a_withdrawal_ends_what_has_not_gone_out_and_outlives_an_import(signed_in: Signed, tmp_path: Path) -> None:
    piece = PieceFactory(model__rated_bar=None)
    owner = piece.owner
    assert round_on("2026-03-18").letters == 1
    assert write(signed_in("desk"), owner, "withdrawn", "2026-03-18", "Please do not write any more.") == 302
    owner.refresh_from_db()
    assert owner.letters is False
    assert not Reminder.objects.filter(ended_on=None).exists()
    (tmp_path / "owners.csv").write_text(
        "owner,name,email,phone,language,country,time_zone,letters\n"
        f"{owner.code},{owner.name},{owner.email},{owner.phone},en,GB,Europe/London,yes\n"
    )
    import_book(tmp_path, dry_run=False, by=None, as_of=date(2026, 3, 19))
    result = round_on("2026-03-19")
    assert result.letters == 0
    write(signed_in("desk"), owner, "consent", "2026-03-20")
    assert round_on("2026-03-20").letters == 1


@pytest.mark.django_db
def test_impossible_days_are_refused_and_nothing_typed_is_lost(signed_in: Signed) -> None:
    owner, desk = OwnerFactory(letters=None), signed_in("desk")
    said = {"ground": "consent", "on": "2999-01-01", "wording": TOLD}
    answer = desk.post(f"/owners/of/{owner.pk}/ground/", said)
    assert answer.status_code == 422
    assert "That day lies in the future." in answer.content.decode()
    assert TOLD in answer.content.decode()
    assert write(desk, owner, "consent", "2026-02-30") == 422
    assert write(desk, owner, "consent", "2026-01-05", " ") == 422
    assert not LetterGround.objects.exists()
    assert write(desk, owner, "withdrawn", "2026-01-05") == 302
    assert write(desk, owner, "consent", "2026-01-04") == 422
    assert write(desk, owner, "withdrawn", "2026-01-06") == 422
    assert LetterGround.objects.count() == 1


@pytest.mark.django_db
def test_a_ground_of_years_ago_does_not_undo_a_withdrawal() -> None:
    owner, desk = OwnerFactory(), StaffFactory()
    day = date(2026, 3, 18)
    set_ground(owner, Ground.WITHDRAWN, on=day, wording="No more.", by=desk, as_of=day)
    with pytest.raises(ImpossibleGround, match="before the latest"):
        set_ground(owner, Ground.CONSENT, on=date(2020, 1, 1), wording="Yes.", by=desk, as_of=day)


@pytest.mark.django_db
def test_boutiques_and_benches_do_not_open_an_owners_page(signed_in: Signed) -> None:
    owner = OwnerFactory()
    for role in ("boutique", "watchmaker"):
        assert signed_in(role).get(f"/owners/of/{owner.pk}/").status_code == 403


@pytest.mark.django_db
@pytest.mark.parametrize("ground", ["consent", "withdrawn"])
def test_a_ground_that_waited_while_a_manager_erased_the_owner_is_not_written(
    signed_in: Signed, monkeypatch: pytest.MonkeyPatch, ground: str
) -> None:
    """The erasure commits between the look that opened the page and the deed behind its button."""
    owner, manager, deed = OwnerFactory(), StaffFactory(role="manager"), actions.set_ground
    day = date(2026, 3, 18)

    def late(owner: Owner, *args: Any, **more: Any) -> LetterGround:
        erase(owner, on=day, by=manager, now=datetime(2026, 3, 18, 10, tzinfo=UTC))
        return deed(owner, *args, **more)

    monkeypatch.setattr(actions, "set_ground", late)
    desk = signed_in("desk")
    assert write(desk, owner, ground, "2026-03-18") == 302
    owner.refresh_from_db()
    assert owner.letters is False
    assert not LetterGround.objects.filter(wording=TOLD).exists()
    assert not Answer.objects.exists()
    assert not Trail.objects.filter(deed="letter_ground").exists()
    assert "Nothing was changed: this owner's data were erased meanwhile." in words_of(desk, f"/owners/of/{owner.pk}/")
