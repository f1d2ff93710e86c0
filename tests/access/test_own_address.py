"""Staff keep their own address, to which letters go that they try on themselves."""

from collections.abc import Callable

import pytest
from django.test import Client

from service_center.access.models import Staff, Trail


@pytest.mark.django_db
def test_one_writes_down_ones_own_address_and_takes_it_away(signed_in: Callable[..., Client]) -> None:
    desk = signed_in("desk")
    assert desk.post("/your-address/", {"email": "ida@fernhollow.example"}).status_code == 302
    staff = Staff.objects.get()
    assert staff.email == "ida@fernhollow.example"
    assert "ida@fernhollow.example" in desk.get("/your-address/").content.decode()
    kept = Trail.objects.get(deed="staff_address")
    assert (kept.by, kept.before, kept.after) == (staff, {"address": False}, {"address": True})
    desk.post("/your-address/", {"email": ""})
    staff.refresh_from_db()
    assert staff.email == ""


@pytest.mark.django_db
@pytest.mark.parametrize(
    "wrong", ["ida", "ida@", "ida@one.example, eve@two.example", "ida@one.example\nBcc: eve@two.example"]
)
def test_what_is_no_single_address_is_refused_and_stays_in_the_field(
    signed_in: Callable[..., Client], wrong: str
) -> None:
    desk = signed_in("desk")
    answer = desk.post("/your-address/", {"email": wrong})
    assert answer.status_code == 422
    assert wrong.split("\n", maxsplit=1)[0].split(",", maxsplit=1)[0] in answer.content.decode()
    assert Staff.objects.get().email == ""
