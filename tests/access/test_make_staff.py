"""Accounts are made by the house, on its own machine."""

import io

import pytest
from django.core.management import CommandError, call_command

from service_center.access.models import Staff, Trail

pytestmark = pytest.mark.django_db


def make(monkeypatch: pytest.MonkeyPatch, password: str, *arguments: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(password + "\n"))
    call_command("make_staff", *arguments, stdout=io.StringIO())


def test_an_account_signs_in_with_its_password_and_its_making_is_on_the_trail(monkeypatch) -> None:
    make(monkeypatch, "quiet-harbour-lamp", "ida", "--role", "boutique", "--boutique", "HAR")
    staff = Staff.objects.get(username="ida")
    assert staff.check_password("quiet-harbour-lamp")
    assert (staff.role, staff.boutique) == ("boutique", "HAR")
    assert Trail.objects.get(subject="staff:ida").after == {"role": "boutique", "boutique": "HAR"}


@pytest.mark.parametrize(
    ("password", "arguments", "reason"),
    [
        ("short", ("ida", "--role", "desk"), "password"),
        ("password123456", ("ida", "--role", "desk"), "password"),
        ("quiet-harbour-lamp", ("ida", "--role", "boutique"), "--boutique"),
        ("quiet-harbour-lamp", ("taken", "--role", "desk"), "taken"),
        ("quiet-harbour-lamp", ("ida", "--role", "desk", "--email", "ida@"), "--email"),
    ],
)
def test_an_account_that_cannot_be_made_is_refused_with_the_reason(monkeypatch, password, arguments, reason) -> None:
    Staff.objects.create(username="taken", role="desk")
    with pytest.raises(CommandError, match=reason) as refusal:
        make(monkeypatch, password, *arguments)
    assert refusal.value.returncode == 2
    assert Staff.objects.count() == 1


def test_the_address_of_a_member_of_staff_is_kept_and_one_that_is_none_is_refused(db: None) -> None:
    Staff.objects.create(username="ida", role="desk")
    call_command("staff_address", "ida", "ida@fernhollow.example", stdout=io.StringIO())
    assert Staff.objects.get().email == "ida@fernhollow.example"
    for arguments, reason in ((("ida", "ida@"), "email"), (("nobody", "ida@fernhollow.example"), "username")):
        with pytest.raises(CommandError, match=reason) as refusal:
            call_command("staff_address", *arguments, stdout=io.StringIO())
        assert refusal.value.returncode == 2
    assert Staff.objects.get().email == "ida@fernhollow.example"
