"""How words stand in a line, in six languages and whatever an owner is called."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.letters.rules.layout import END_OF_ISOLATE, ISOLATE, TEXT_WIDTH, columns, isolated, wrapped

ANY = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=300)


@given(ANY)
def test_breaking_a_text_into_lines_loses_and_adds_nothing_but_spaces(text: str) -> None:
    assert "".join(wrapped(text).split()) == "".join(text.split())


@given(st.lists(st.text(st.characters(categories=["L", "N", "P"]), min_size=1, max_size=12), max_size=60))
def test_no_line_is_wider_than_people_read(words: list[str]) -> None:
    for line in wrapped(" ".join(words)).splitlines():
        # What may not stand at the end or beginning of a line can make it a little longer, and a long word stays whole.
        assert columns(line) <= TEXT_WIDTH + 2 * max((len(word) for word in words), default=0)


def test_japanese_is_broken_between_its_characters_at_38_of_them() -> None:
    text = "お持ちの時計がお手入れの時期を迎えました。これからも長く正確に動き、水の浸入を防ぐためのお手入れです。"
    lines = wrapped(text).splitlines()
    assert len(lines) == 2
    assert all(columns(line) <= TEXT_WIDTH for line in lines)
    assert "".join(lines) == text


def test_no_line_of_japanese_begins_with_a_comma_or_ends_with_an_opening_bracket() -> None:
    for shift in range(1, 41):
        lines = wrapped("時" * shift + "、「計」を。" * 30).splitlines()
        assert not any(line[0] in "、。」" or line[-1] == "「" for line in lines)


def test_a_french_line_is_broken_between_words_only() -> None:
    text = "Sa boîte a été ouverte le 2 février 2026, et nous n’avons connaissance d’aucun test d’étanchéité depuis."
    assert wrapped(text).splitlines() == [
        "Sa boîte a été ouverte le 2 février 2026, et nous n’avons connaissance",
        "d’aucun test d’étanchéité depuis.",
    ]


@pytest.mark.parametrize("space", ["\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}"])
def test_a_french_line_is_never_broken_before_its_colon(space: str) -> None:
    text = (
        f"Nous avons examiné votre montre, et voici ce que nous vous proposons de faire{space}: une révision complète."
    )
    first, second = wrapped(text).splitlines()
    assert first.endswith("de") and second == f"faire{space}: une révision complète."


def test_a_link_stays_whole() -> None:
    link = "https://care.fernhollow.example/o/" + "x" * 90 + "/"
    assert wrapped(f"Here:\n{link}\n").splitlines() == ["Here:", link]


@pytest.mark.parametrize("name", ["دנה", "נור", "نور الحسيني", "Dana דנה"])
def test_a_name_that_runs_from_right_to_left_is_set_apart(name: str) -> None:
    assert isolated(name) == f"{ISOLATE}{name}{END_OF_ISOLATE}"


@pytest.mark.parametrize("name", ["Ada Winter", "山田 花子", "Ольга", "Ada 🕰️", ""])
def test_a_name_that_runs_our_way_stands_as_it_is(name: str) -> None:
    assert isolated(name) == name


@given(ANY)
def test_no_name_turns_a_line_round(name: str) -> None:
    """UAX 9: what an isolate opens, it closes; overrides and embeddings in a record are taken out."""
    said = isolated(name)
    inner = said.removeprefix(ISOLATE).removesuffix(END_OF_ISOLATE)
    assert not any(
        unicodedata.bidirectional(char) in {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
        for char in inner
    )
    assert (said != inner) == any(unicodedata.bidirectional(char) in {"R", "AL"} for char in inner)


def test_a_family_of_emoji_stays_together() -> None:
    family = "👩‍👩‍👧‍👦"
    assert family in wrapped(("x" * 37 + " ") * 2 + family * 30)
    assert all(
        not line.startswith("\u200d") and not line.endswith("\u200d") for line in wrapped(family * 60).splitlines()
    )
