"""On which ground letters go out (facts.md, 7), and the planned day of an invitation."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from django.db import Error
from django.test import Client
from django.urls import reverse

from service_center.book.models import Owner, Piece
from service_center.exchange.actions import import_book
from service_center.letters.actions import PlannedDay, note_ground, plan_invitations
from service_center.letters.actions.grounds import NoWording
from service_center.letters.models import LetterGround, PlannedInvitation
from service_center.letters.rules.words import Ground
from tests.factories import StaffFactory
from tests.letters.conftest import NOW, recount, round_on

Make = Callable[..., Piece]
OWNERS = "owner,name,email,phone,language,country,time_zone,letters\n"


def test_no_ground_no_letter_and_the_round_says_so(due_piece: Make) -> None:
    piece = due_piece()
    Owner.objects.update(letters=None)
    owner = Owner.objects.create(code="O-1", name="Eve", email="eve@owners.example", country="GB", letters=True)
    Piece.objects.update(owner=owner)
    result = round_on("2026-03-18")
    assert (result.letters, [(one.serial, one.reason.value) for one in result.not_written]) == (
        0, [(piece.serial, "no_ground")],
    )  # fmt: skip
    note_ground(owner, Ground.CONSENT, on=date(2026, 3, 19), wording="Asked at the counter; said yes.", by=None)
    assert round_on("2026-03-19").letters == 1


def test_a_ground_has_its_words_and_is_a_fact(due_piece: Make) -> None:
    owner = due_piece().owner
    assert owner is not None
    with pytest.raises(NoWording):
        note_ground(owner, Ground.CONSENT, on=date(2026, 3, 19), wording=" ", by=None)
    with pytest.raises(Error, match="facts"):
        LetterGround.objects.update(ground="consent")


def test_an_imported_owner_with_letters_is_an_existing_customer_from_that_day(db: None, tmp_path: Path) -> None:
    rows = "O-1,Ada,ada@owners.example,,en,GB,,yes\nO-2,Eve,eve@owners.example,,en,GB,,no\nO-3,Kai,,,,,,\n"
    (tmp_path / "owners.csv").write_text(OWNERS + rows)
    for _again in range(2):
        import_book(tmp_path, dry_run=False, by=None, as_of=date(2026, 3, 18))
    [ground] = LetterGround.objects.select_related("owner")
    assert (ground.owner.code, ground.ground, ground.on) == ("O-1", "existing_customer", date(2026, 3, 18))
    assert "each letter offers a way to refuse more" in ground.wording
    (tmp_path / "owners.csv").write_text(OWNERS + rows.replace("GB,,no", "GB,,yes"))
    import_book(tmp_path, dry_run=False, by=None, as_of=date(2026, 4, 1))
    assert set(LetterGround.objects.values_list("owner__code", "on")) == {
        ("O-1", date(2026, 3, 18)), ("O-2", date(2026, 4, 1)),
    }  # fmt: skip


def test_the_pieces_page_shows_the_ground(due_piece: Make, client: Client) -> None:
    piece = due_piece()
    client.force_login(StaffFactory(role="desk"))
    page = client.get(reverse("pieces:piece", args=[piece.pk])).content.decode()
    assert "Ground: existing customer, since 17 May 2019." in page


@pytest.mark.parametrize(
    ("planned", "day"),
    [("2026-02-02", "2026-02-02"), ("2026-04-20", "2026-04-20"), ("2024-01-08", "2026-03-18")],
)
def test_an_invitation_goes_on_its_planned_day_and_by_its_due_date_where_the_plan_lies_before_it_opens(
    due_piece: Make, planned: str, day: str
) -> None:
    piece = due_piece()  # opens on Saturday, 17 May 2025
    recount("2024-01-08")
    plan = [PlannedDay(piece.pk, date(2019, 5, 17), date.fromisoformat(planned))]
    assert plan_invitations(plan, at=NOW, by=None) == 1
    before = date.fromordinal(date.fromisoformat(day).toordinal() - 3).isoformat()
    assert round_on(before).letters == 0
    assert round_on(day).letters == 1


def test_a_later_plan_takes_the_earlier_ones_place(due_piece: Make) -> None:
    piece = due_piece()
    for invite_on in (date(2026, 2, 2), date(2026, 4, 20)):
        plan_invitations([PlannedDay(piece.pk, date(2019, 5, 17), invite_on)], at=NOW, by=None)
    assert PlannedInvitation.objects.get().invite_on == date(2026, 4, 20)
    assert round_on("2026-03-18").letters == 0
