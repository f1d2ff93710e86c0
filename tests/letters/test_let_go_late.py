"""What the desk lets go when its morning has passed: never on a day off, never at night where its owner lives."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.letters.actions import daily_round, go_on, hold_waiting, let_round_go, release
from service_center.letters.calendars import working_days
from service_center.letters.models import Letter, Round
from service_center.letters.rules.mornings import in_the_morning
from service_center.letters.rules.unusual import Asked
from tests.factories import BoutiqueFactory, OwnerFactory, StaffFactory
from tests.letters.conftest import only_letter, round_on

Make = Callable[..., Piece]
# Monday, 20 April 2026, five in the afternoon in Zurich; in Tokyo the 21st has begun.
MONDAY_EVENING = datetime(2026, 4, 20, 15, 0, tzinfo=UTC)
SUNDAY_EVENING = datetime(2026, 4, 19, 18, 0, tzinfo=UTC)


@pytest.fixture
def desk(db: None) -> Staff:
    staff: Staff = StaffFactory(role="desk")
    return staff


@pytest.fixture
def held(due_piece: Make, settings: Any) -> Round:
    """Monday's round, held because it has many letters, to owners here and there."""
    settings.ROUND_LETTERS_USUAL = 1
    at_seehof = BoutiqueFactory(country="CH", time_zone="Europe/Zurich")
    for fields in (
        {"country": "CH", "time_zone": "Europe/Zurich"},
        {"country": "JP", "time_zone": "Asia/Tokyo"},
        {"country": "US", "time_zone": "America/New_York"},
        {"country": "", "time_zone": ""},
    ):
        due_piece(owner=OwnerFactory(**fields), boutique=at_seehof)
    daily_round(as_of=date(2026, 4, 20), now=SUNDAY_EVENING, asked=Asked.BY_CLOCK)
    return Round.objects.get()


def mornings() -> dict[str, datetime]:
    return {letter.owner.country: letter.not_before for letter in Letter.objects.select_related("owner")}


EXPECTED = {
    "CH": datetime(2026, 4, 21, 7, 0, tzinfo=UTC),
    "": datetime(2026, 4, 21, 7, 0, tzinfo=UTC),  # by the boutique
    "JP": datetime(2026, 4, 21, 0, 0, tzinfo=UTC),
    # Eleven in New York: it is the morning still.
    "US": datetime(2026, 4, 20, 13, 0, tzinfo=UTC),
}


def test_a_round_let_go_in_the_evening_goes_out_in_the_mornings_of_its_owners(held: Round, desk: Staff) -> None:
    assert let_round_go(held, by=desk, now=MONDAY_EVENING) == 4
    assert mornings() == EXPECTED
    assert set(Letter.objects.values_list("state", flat=True)) == {"waiting"}


def test_after_a_restore_they_go_out_in_the_mornings_of_their_owners(held: Round, desk: Staff) -> None:
    let_round_go(held, by=desk, now=SUNDAY_EVENING)
    hold_waiting()
    assert go_on(by=desk, now=MONDAY_EVENING) == 4
    assert mornings() == EXPECTED


def test_word_about_an_order_goes_at_once(desk: Staff) -> None:
    before = datetime(2026, 4, 18, 8, tzinfo=UTC)
    letter = Letter.objects.create(
        owner=OwnerFactory(country="JP", time_zone="Asia/Tokyo"), sort="order", language="en",
        planned_on=date(2026, 4, 18), not_before=before, state="held",
    )  # fmt: skip
    hold_waiting()
    Letter.objects.update(reason="after a restore")
    go_on(by=desk, now=SUNDAY_EVENING)
    assert (only_letter().state, only_letter().not_before) == ("waiting", before)
    Letter.objects.update(state="held", not_before=datetime(2099, 1, 1, tzinfo=UTC))
    release(letter, by=desk, now=SUNDAY_EVENING)
    assert only_letter().not_before < datetime(2099, 1, 1, tzinfo=UTC)


def test_one_letter_let_go_on_the_evening_before_keeps_its_morning(due_piece: Make, desk: Staff) -> None:
    due_piece()
    round_on("2026-04-20")
    Letter.objects.update(state="held")
    own = only_letter().not_before
    release(only_letter(), by=desk, now=SUNDAY_EVENING)
    assert (only_letter().state, only_letter().not_before) == ("waiting", own)


def test_one_letter_whose_morning_has_passed_waits_for_the_next_and_the_desk_is_told(
    due_piece: Make, client: Client, desk: Staff
) -> None:
    due_piece()
    round_on("2026-04-20")
    Letter.objects.update(state="refused")
    client.force_login(desk)
    with time_machine.travel(datetime(2026, 4, 24, 18, 0, tzinfo=UTC), tick=False):  # a Friday
        page = client.post(reverse("letters:release", args=[only_letter().pk]), follow=True).content.decode()
    assert "The letter goes out in its owner’s morning." in page
    assert (only_letter().state, only_letter().not_before) == ("waiting", datetime(2026, 4, 27, 8, 0, tzinfo=UTC))


@pytest.mark.parametrize(
    ("hour", "told"),
    [
        (10, "The letter goes out again, as the same message."),
        (18, "The letter goes out again in its owner’s morning, as the same message."),
    ],
)
def test_a_doubt_is_sent_again_in_a_morning_and_the_desk_is_told(
    due_piece: Make, client: Client, desk: Staff, hour: int, told: str
) -> None:
    due_piece()
    round_on("2026-04-20")
    Letter.objects.update(state="in_doubt", attempt=1)
    client.force_login(desk)
    with time_machine.travel(datetime(2026, 4, 23, hour, 0, tzinfo=UTC), tick=False):
        form = {"how": "sent_again", "attempt": 1}
        page = client.post(reverse("letters:settle_doubt", args=[only_letter().pk]), form, follow=True)
    assert told in page.content.decode()
    assert only_letter().state == "waiting"


@pytest.mark.parametrize(
    ("now", "then"),
    [
        ("2026-04-30 06:59", "2026-04-30 07:00"),
        ("2026-04-30 07:00", "2026-04-30 07:00"),
        ("2026-04-30 09:59", "2026-04-30 09:59"),
        ("2026-04-30 10:00", "2026-05-04 07:00"),  # Labour Day, and a weekend
        ("2026-05-03 08:00", "2026-05-04 07:00"),
    ],
)
def test_the_next_morning_of_a_working_day_in_berlin(now: str, then: str) -> None:
    from_, to = (datetime.fromisoformat(f"{text}+00:00") for text in (now, then))
    assert in_the_morning(from_, ZoneInfo("Europe/Berlin"), working_days("DE")) == to


def test_a_lot_costs_the_same_few_statements_however_many_letters(desk: Staff) -> None:
    counts = []
    for number in (3, 30):
        owners = [OwnerFactory(country="JP", time_zone="Asia/Tokyo") for _one in range(number)]
        Letter.objects.bulk_create(
            Letter(owner=owner, language="en", planned_on=date(2026, 4, 20), not_before=SUNDAY_EVENING)
            for owner in owners
        )
        hold_waiting()
        assert Letter.objects.filter(state="held").count() >= number
        with CaptureQueriesContext(connection) as context:
            go_on(by=desk, now=MONDAY_EVENING)
        counts.append(len(context))
    assert counts[0] == counts[1]
