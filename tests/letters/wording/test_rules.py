"""Texts with placeholders: what is refused when it is saved, and that nothing fails on the night it is sent."""

import re
import string
from datetime import date, time

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from service_center.letters.composing import letter as compose
from service_center.letters.composing.texts import SLOTS, our_text
from service_center.letters.composing.wording import wording_in
from service_center.letters.rules.wording import Flaw, Found, Slot, cut, flaws_of, tidied
from service_center.letters.rules.words import VisitNews
from service_center.letters.wording.examples import EXAMPLES, pieces_of_example
from service_center.letters.wording.words import GROUP_OF, LABELS, LETTERS, PLACEHOLDERS

TODAY = date(2026, 11, 25)
LINKS = compose.links_for("p" * 43, "s" * 43)
ONE = Slot("one", "Dear {owner},", frozenset({"owner", "house"}), frozenset({"owner"}), most=60)
MANY = Slot("many", "…", frozenset({"owner"}), one_line=False, most=200)
LANGUAGES = ["en", "fr", "de", "it", "es", "ja"]
ANYTHING = st.text(st.characters(exclude_categories=["Cs"]), max_size=120)
# What people who write such texts get wrong: braces in all places, names that are none, values of other languages.
NEARLY = st.lists(
    st.sampled_from(["{", "}", "{{", "}}", "{owner}", "{house}", "{Owner}", "{owner.x}", "{0}", "{}", "%s", "%(owner)s",
                     "{% now %}", "{{ owner }}", "$owner", "\n", "<b>", "&amp;", "[[subject]]", "<!--each pieces-->", " a "]),
    max_size=12,
).map("".join)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "flaw", "what"),
    [
        ("", Flaw.EMPTY, ""),
        (" \n ", Flaw.EMPTY, ""),
        ("Dear {owner}" + "!" * 60, Flaw.TOO_LONG, "60"),
        ("Dear\n{owner}", Flaw.LINE_BREAK, ""),
        ("Dear {owner}\x07", Flaw.CONTROL, "U+0007"),
        ("Dear {owner}\u2028", Flaw.CONTROL, "U+2028"),
        ("Dear {owner", Flaw.OPEN_BRACE, "{"),
        ("Dear owner}", Flaw.LOOSE_BRACE, "}"),
        ("Dear {{owner}", Flaw.LOOSE_BRACE, "}"),
        ("Dear {the owner}", Flaw.BAD_NAME, "{the owner}"),
        ("Dear {owner.email}", Flaw.BAD_NAME, "{owner.email}"),
        ("Dear {owner!r}", Flaw.BAD_NAME, "{owner!r}"),
        ("Dear {0}", Flaw.BAD_NAME, "{0}"),
        ("Dear {}", Flaw.BAD_NAME, "{}"),
        ("Dear {owner} {serial}", Flaw.UNKNOWN, "serial"),
        ("Dear owner", Flaw.MISSING, "owner"),
        ("Dear {{owner}}", Flaw.MISSING, "owner"),
    ],
)
def test_a_text_that_cannot_be_used_is_refused_with_the_reason(text: str, flaw: Flaw, what: str) -> None:
    assert Found(flaw, what) in flaws_of(text, ONE)


@pytest.mark.parametrize("text", ["Dear {owner},", "{owner} {{of}} {house}", "100 % {owner} & <co>", "{owner}{owner}"])
def test_a_text_that_says_what_it_must_is_taken(text: str) -> None:
    assert flaws_of(text, ONE) == []


def test_values_are_put_in_as_they_are_and_never_read_as_text_again() -> None:
    assert (
        cut("{owner}, {{x}} {house}").say({"owner": "{house}", "house": "{{Fernhollow"}) == "{house}, {x} {{Fernhollow"
    )


@given(ANYTHING | NEARLY)
def test_what_is_taken_says_everything_that_it_names(text: str) -> None:
    kept = tidied(text)
    for slot in (ONE, MANY):
        if not flaws_of(kept, slot):
            said = cut(kept).say({"owner": "Ⓞ", "house": "Ⓗ"})
            assert said.count("Ⓞ") >= len(slot.must)
            assert kept.replace("{{", "").replace("}}", "").count("{owner}") == said.count("Ⓞ") - kept.count("Ⓞ")


@given(ANYTHING | NEARLY)
def test_no_text_whatever_fails_when_it_is_said(text: str) -> None:
    assert isinstance(cut(text).say({}), str)
    flaws_of(text, ONE)


@example({"tightness.invitation.subject": "{owner}"}, "en", "failed", "tightness.invitation", "")
@given(
    st.dictionaries(st.sampled_from(sorted(SLOTS)), ANYTHING | NEARLY, max_size=8),
    st.sampled_from(LANGUAGES),
    st.sampled_from(sorted(EXAMPLES)),
    st.sampled_from(sorted(LETTERS)),
    ANYTHING,
)
def test_no_letter_fails_for_the_houses_words_or_its_records(
    texts: dict[str, str], language: str, example: str, case: str, name: str
) -> None:
    """Whatever got into the table of texts: what cannot be used gives way to ours."""
    wording = wording_in(language, frozenset(texts.items()))
    pieces = pieces_of_example(EXAMPLES[example], case, TODAY)
    written = compose.write(compose.LetterContent(1, language, name, TODAY, pieces, wording), LINKS)
    assert written.subject.strip()
    assert "\n" not in written.subject
    assert LINKS.page in written.text
    assert f'href="{LINKS.page}"' in written.html
    assert "[[" not in written.html or any("[[" in one for one in [name, *texts.values()])
    visit = compose.VisitContent(
        language, name, VisitNews.BOOKED, TODAY, time(10, 30), name, ((name, name),), wording, entry=""
    )
    assert LINKS.page in compose.write(visit, LINKS).text


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_subject_that_names_only_what_nobody_knows_gives_way_to_ours(language: str) -> None:
    wording = wording_in(language, frozenset({("tightness.invitation.subject", "{owner}")}))
    ours = wording_in(language).subject("tightness.invitation.subject", piece="Slipway")
    assert wording.subject("tightness.invitation.subject", owner="Ada Ashwick", piece="Slipway") == "Ada Ashwick"
    assert wording.subject("tightness.invitation.subject", owner="", piece="Slipway") == ours
    assert "Slipway" in ours


@pytest.mark.parametrize("language", LANGUAGES)
def test_our_own_texts_can_be_used_in_every_language_and_none_is_blank(language: str) -> None:
    for code, slot in SLOTS.items():
        assert flaws_of(our_text(code, language), slot) == [], f"{language} {code}"
        assert (our_text(code, language) == slot.ours) == (language == "en"), f"{language} {code}"


def test_every_text_stands_on_one_page_with_a_label_and_every_name_is_explained() -> None:
    assert set(GROUP_OF) == set(LABELS) == set(SLOTS)
    assert {name for slot in SLOTS.values() for name in slot.may} == set(PLACEHOLDERS)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("case", LETTERS)
def test_every_letter_of_every_example_reads_whole(language: str, case: str) -> None:
    """No placeholder is left, no sentence is empty, in any language."""
    for shown in EXAMPLES.values():
        pieces = pieces_of_example(shown, case, TODAY)
        content = compose.LetterContent(1, language, shown.owner, TODAY, pieces, wording_in(language))
        written = compose.write(content, LINKS)
        styles = re.compile("<style.*?</style>", re.DOTALL)
        for form in (written.subject, written.text, styles.sub("", written.html)):
            assert not re.search(r"[{}]|\[\[|\]\]", form)
        for piece in pieces:
            assert piece.serial in written.text
            assert piece.serial in written.html
        assert all(line.strip() not in string.punctuation or not line.strip() for line in written.text.splitlines())
