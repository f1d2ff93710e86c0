"""The demo's book before it is imported: invented people, plausible lives, the same every time."""

import unicodedata
from collections import Counter
from datetime import date

import pytest

from service_center.demo.rules.book import Book, fernhollow
from service_center.demo.rules.house import ACCOUNTS, MODELS
from service_center.demo.rules.names import VISITORS

TODAY = date(2026, 11, 25)


@pytest.fixture(scope="module")
def book() -> Book:
    return fernhollow(TODAY)


def test_one_seed_and_one_day_give_one_book(book: Book) -> None:
    assert fernhollow(TODAY) == book
    assert fernhollow(TODAY, seed="another")["owners.csv"] != book["owners.csv"]


def test_the_book_has_a_few_thousand_pieces_three_boutiques_and_ten_years(book: Book) -> None:
    assert len(book["pieces.csv"]) == 3_744
    assert (
        len({row["time_zone"] for row in book["boutiques.csv"]})
        == len({row["country"] for row in book["boutiques.csv"]})
        == 3
    )
    days = [date.fromisoformat(row["done_on"]) for row in book["history.csv"]]
    assert days == sorted(days)
    assert (days[0].year, days[-1]) == (2016, date(2026, 11, 24))


def test_every_address_is_one_that_nobody_can_have(book: Book) -> None:
    # RFC 2606, section 2: .example is kept free for documentation.
    written = [row["email"] for row in book["owners.csv"] if row["email"]]
    assert all(email.endswith("@owners.example") and email.isascii() for email in written)
    assert len(set(written)) == len(written)


def test_owners_are_called_in_the_scripts_of_the_world(book: Book) -> None:
    names = "".join(row["name"] for row in book["owners.csv"])
    scripts = Counter(unicodedata.name(char).split()[0] for char in names if char.isalpha())
    assert {"LATIN", "GREEK", "CYRILLIC", "CJK", "HANGUL", "ARABIC", "HEBREW", "HIRAGANA"} <= set(scripts)
    assert {people.language for visitors in VISITORS.values() for people, _weight in visitors} == {
        row["language"] for row in book["owners.csv"]
    }


def test_a_piece_without_a_rating_is_never_tested(book: Book) -> None:
    unrated = {model.reference for model in MODELS if not model.rated_bar}
    serials = {row["serial"] for row in book["pieces.csv"] if row["reference"] in unrated}
    assert serials
    assert {row["tightness"] for row in book["history.csv"] if row["serial"] in serials} == {"not_tested"}


def test_a_mechanical_house_changes_no_batteries_and_what_was_done_elsewhere_says_whether_it_counts(book: Book) -> None:
    kinds = {row["kind"] for row in book["history.csv"]}
    assert kinds == {"overhaul", "repair", "tightness_check", "strap"}
    outside = Counter(row["accepted"] for row in book["history.csv"] if row["done_by"] == "outside")
    assert set(outside) == {"yes", "no"}
    assert {row["accepted"] for row in book["history.csv"] if row["done_by"] == "own"} == {""}


def test_nothing_happens_to_a_piece_before_it_is_sold_or_after_today(book: Book) -> None:
    sold = {row["serial"]: row["sold_on"] for row in book["pieces.csv"]}
    assert all(row["done_on"] >= sold[row["serial"]] for row in book["history.csv"])
    assert all(row["made_on"] < row["sold_on"] for row in book["pieces.csv"] if row["made_on"] and row["sold_on"])
    assert max(row["sold_on"] for row in book["pieces.csv"]) <= TODAY.isoformat()


def test_there_is_an_account_for_every_role() -> None:
    assert {account.role for account in ACCOUNTS} == {"boutique", "desk", "watchmaker", "manager"}
