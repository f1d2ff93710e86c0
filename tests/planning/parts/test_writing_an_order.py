"""An order to a supplier, written down from the list."""

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.workshop.models import OnOrder
from tests.planning.parts.shelf import DAY, laid, listed, on_the_day, part, row_of

Sold = Callable[..., list[Piece]]
pytestmark = pytest.mark.usefixtures("benches", "today")


def ordering(*lines: tuple[str, str, str], **fields: str) -> dict[str, str]:
    data = {
        "form_key": str(uuid4()), "supplier": "Alder and Quill", "reference": "", "ordered_on": DAY.isoformat(),
        "lines-TOTAL_FORMS": str(len(lines)), "lines-INITIAL_FORMS": "0",
    }  # fmt: skip
    for number, values in enumerate(lines):
        data |= {
            f"lines-{number}-{name}": one
            for name, one in zip(("number", "quantity", "expected_on"), values, strict=True)
        }
    return data | fields


def test_the_desk_writes_an_order_down_from_the_list(signed_in: Callable[..., Client], sold: Sold) -> None:
    gasket = part()
    part("C-1", name="Crown", sort="crown")
    sold(200, "2019-08-05")
    on_the_day()
    desk, where = signed_in("desk"), reverse("planning:write_order")
    begun = desk.get(where).content.decode()
    assert f'value="{row_of(gasket).order.quantity}"' in begun
    assert 'value="2026-12-09"' in begun  # fourteen days from order to shelf
    desk.post(where, ordering(("GK-10", "40", "2026-12-09"), ("C-1", "", "2026-12-09")))
    assert [(one.part.number, one.quantity) for one in OnOrder.objects.select_related("part")] == [("GK-10", 40)]


def test_what_is_ordered_later_has_its_number_beside_it(
    signed_in: Callable[..., Client], sold: Sold, by: Staff
) -> None:
    laid(part(delivery_days=7), 30, by)
    sold(200, "2019-08-05")
    on_the_day()
    [row] = listed().later
    page = " ".join(signed_in("desk").get(reverse("planning:write_order")).content.decode().split())
    assert f"the list says {row.order.quantity}, by" in page


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ((("GK-10", "", ""),), "How many of which part"),
        ((("NO-1", "4", "2026-12-09"),), "No part has this number"),
        ((("GK-10", "4", ""),), "When is it expected"),
        ((("GK-10", "4", "2026-11-01"),), "was not ordered yet on that day"),
        ((("GK-10", "4", "2026-12-09"), ("GK-10", "2", "2026-12-09")), "stands in the order twice"),
    ],
)
def test_an_order_that_cannot_be_is_refused_with_its_reason_and_what_was_typed(
    lines: tuple[tuple[str, str, str], ...], said: str, signed_in: Callable[..., Client]
) -> None:
    part()
    answer = signed_in("desk").post(reverse("planning:write_order"), ordering(*lines))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert 'value="Alder and Quill"' in page
    assert f'value="{lines[0][0]}"' in page
    assert not OnOrder.objects.exists()


def test_a_day_to_come_is_no_day_on_which_it_was_ordered(signed_in: Callable[..., Client]) -> None:
    part()
    answer = signed_in("desk").post(
        reverse("planning:write_order"), ordering(("GK-10", "4", "2027-02-01"), ordered_on="2027-01-01")
    )
    assert (answer.status_code, "This day is still to come" in answer.content.decode()) == (422, True)
