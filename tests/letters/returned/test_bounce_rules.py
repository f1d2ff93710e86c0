"""Whose fault it is, what stops an address, and who can make a return path. Pure rules."""

from datetime import UTC, datetime, timedelta
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.letters.rules.bounces import Happened, SoftFailure, doubt_settled, enough_soft_ones, fault_told
from service_center.letters.rules.codes import Fault, Status, fault_of, most_telling
from service_center.letters.rules.return_path import letter_named_in, return_path
from service_center.letters.rules.words import LetterState

SECRET, OTHER = "a house's secret", "another's"
DAY = datetime(2026, 11, 1, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("code", "fault"),
    [
        # RFC 3463, 3.2 to 3.8, as design/facts.md, 7 tells them apart
        ("5.1.1", Fault.ADDRESS), ("5.1.2", Fault.ADDRESS), ("5.1.3", Fault.ADDRESS), ("5.1.6", Fault.ADDRESS),
        ("5.2.1", Fault.ADDRESS), ("5.4.4", Fault.ADDRESS),
        ("4.2.2", Fault.FOR_NOW), ("5.2.2", Fault.FOR_NOW), ("4.4.1", Fault.FOR_NOW), ("4.4.7", Fault.FOR_NOW),
        ("5.4.7", Fault.FOR_NOW), ("5.0.0", Fault.FOR_NOW), ("4.1.1", Fault.FOR_NOW),
        ("5.7.1", Fault.POLICY), ("5.7.26", Fault.POLICY), ("4.7.0", Fault.POLICY), ("4.7.32", Fault.POLICY),
        ("5.1.8", Fault.POLICY), ("5.3.4", Fault.MESSAGE), ("5.6.1", Fault.MESSAGE), ("5.5.2", Fault.MESSAGE),
        ("2.1.5", Fault.NONE),
        # RFC 7505: takes no mail at all
        ("5.1.10", Fault.ADDRESS),
    ],
)  # fmt: skip
def test_a_code_says_whose_fault_it_is(code: str, fault: Fault) -> None:
    assert fault_of(Status.found_in(code)) is fault


def test_without_a_code_nothing_proves_that_an_address_is_dead() -> None:
    assert fault_of(Status.found_in("550 go away")) is Fault.FOR_NOW


@pytest.mark.parametrize("text", ["10.5.1.1 refused it", "version 5.1.1.2", "v5.1.1", "5.1", ""])
def test_numbers_that_are_no_codes_are_not_taken_for_one(text: str) -> None:
    assert Status.found_in(text) is None


def test_a_code_that_says_nothing_gives_way_to_one_that_does() -> None:
    assert str(most_telling("5.0.0", "smtp; 550 5.7.1 not from there")) == "5.7.1"
    assert str(most_telling("5.1.1", "smtp; 550 5.7.1 not from there")) == "5.1.1"
    assert str(most_telling("5.0.0", "no words")) == "5.0.0"


def test_a_delay_is_no_verdict_but_on_the_house_itself() -> None:
    assert fault_told(Happened.DELAYED, Status.found_in("4.2.2")) is Fault.NONE
    assert fault_told(Happened.DELAYED, Status.found_in("4.7.0")) is Fault.POLICY
    assert fault_told(Happened.DELIVERED, Status.found_in("2.1.5")) is Fault.NONE


def failed(*days: float, letter: int | None = None) -> list[SoftFailure]:
    return [SoftFailure(letter or number, DAY + timedelta(days=day)) for number, day in enumerate(days, 1)]


@pytest.mark.parametrize(
    ("failures", "stops"),
    [
        (failed(0, 10), False),
        (failed(0, 10, 30), True),
        (failed(0, 10, 30.01), False),
        (failed(0, 20, 40, 49), True),
        (failed(0, 20, 41, 62, 83), False),
        # told by mail and by the provider, and tried again the same day: one failure
        (failed(0, 0.001, 0.3, letter=7), False),
        (failed(0, 2, 4, letter=7), True),
    ],
)
def test_three_failures_for_now_within_thirty_days_stop_an_address(failures: list[SoftFailure], *, stops: bool) -> None:
    assert {enough_soft_ones(order) for order in permutations(failures)} == {stops}


@given(st.lists(st.sampled_from(Happened), max_size=6), st.randoms())
def test_what_reports_prove_does_not_hang_on_their_order(happened: list[Happened], chance: object) -> None:
    shuffled = list(happened)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert doubt_settled(happened) is doubt_settled(shuffled)


@pytest.mark.parametrize(
    ("happened", "state"),
    [
        ([], None),
        (["delayed"], LetterState.SENT),
        (["failed"], LetterState.REFUSED),
        (["delayed", "failed"], LetterState.REFUSED),
        (["delivered", "failed"], LetterState.SENT),
        (["complained"], LetterState.SENT),
    ],
)
def test_any_report_proves_that_a_server_had_the_letter(happened: list[str], state: LetterState | None) -> None:
    assert doubt_settled(Happened(one) for one in happened) is state


@given(st.integers(min_value=1, max_value=10**18 - 1))
def test_a_return_path_names_its_letter_and_is_an_address_any_server_takes(letter: int) -> None:
    address = return_path(letter, secret=SECRET, domain="fernhollow.example")
    local, _at, domain = address.partition("@")
    assert domain == "fernhollow.example"
    assert len(local) <= 64  # RFC 5321, 4.5.3.1.1
    for seen in (f"To: <{address}>", address.upper(), f"Delivered-To: {address}\nX: y"):
        assert letter_named_in(seen, secrets=[SECRET]) == letter


@given(st.integers(min_value=1, max_value=10**9), st.integers(min_value=1, max_value=10**9))
def test_a_return_path_cannot_be_forged(letter: int, another: int) -> None:
    address = return_path(letter, secret=SECRET, domain="fernhollow.example")
    mac = address.split("@")[0].split(".")[1]
    assert letter_named_in(address, secrets=[OTHER]) is None
    if another != letter:
        assert letter_named_in(f"bounce+{another}.{mac}@fernhollow.example", secrets=[SECRET]) is None
    # what is made for one purpose does not serve the other
    assert letter_named_in(f"<letter.{letter}.{mac}@fernhollow.example>", secrets=[SECRET]) is None
    assert letter_named_in(address.replace(mac, mac[:-1]), secrets=[SECRET]) is None
    assert letter_named_in(address.replace(mac, mac + "0"), secrets=[SECRET]) is None


def test_a_forged_name_does_not_hide_the_true_one_behind_it() -> None:
    forged = f"bounce+5.{'0' * 24}@fernhollow.example"
    assert letter_named_in(f"{forged} {return_path(7, secret=SECRET, domain='f.example')}", secrets=[SECRET]) == 7


def test_letters_that_went_out_before_the_secret_was_changed_are_still_known() -> None:
    old = return_path(7, secret=OTHER, domain="fernhollow.example")
    assert letter_named_in(old, secrets=[SECRET, OTHER]) == 7
