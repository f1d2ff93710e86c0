"""Every text that an owner reads is written in all six languages, whole, and compiled as it is written."""

import re
from datetime import date
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog, Message
from django.conf import settings
from django.utils import translation
from django.utils.formats import date_format
from django.utils.translation import gettext, ngettext

from service_center.book.wording import supported
from service_center.owner_pages.catalogue import OWNER_TEXTS, TRANSLATED, has_words, owner_texts, translations

PLACEHOLDER = re.compile(r"\{\w+\}|%\(\w+\)s|%%|<[^>]+>|https?://\S+")


def texts() -> list[Message]:
    return [message for message in owner_texts() if message.id]


def forms(text: str | tuple[str, ...] | list[str]) -> list[str]:
    return [text] if isinstance(text, str) else list(text)


def found(catalog: Catalog, message: Message) -> Message:
    got = catalog.get(forms(message.id)[0], context=message.context)
    assert got is not None, f"{catalog.locale}: {message.id!r} is not in the file: run update_translations"
    return got


TAKES_IN = re.compile(r"""{%\s*(?:include|extends)\s+["']([^"']+)""")
SPEAKS = re.compile(r"{%\s*(?:block)?trans(?:late)?\b")


def test_the_six_languages_are_those_of_the_design() -> None:
    assert [code for code, _name in settings.LANGUAGES] == ["en", "fr", "de", "it", "es", "ja"]


def test_texts_are_read_from_every_place_where_owners_read() -> None:
    sources = {location for message in texts() for location, _line in message.locations}
    for pattern in OWNER_TEXTS:
        if "*" not in pattern:
            assert Path(settings.BASE_DIR, pattern).is_file(), pattern
    for source in (
        "service_center/letters/composing/texts.py",
        "templates/owner_pages/letter.html",
        "service_center/owner_pages/forms.py",
        "templates/forms/errors.html",
        "templates/intake/receipt.html",
        "templates/letters/paper.html",
        "service_center/intake/wording.py",
        "service_center/guarantee/words.py",
    ):
        assert source in sources


def test_what_an_owners_page_takes_in_is_read_too() -> None:
    """A part shared with the staff's pages would else speak English in the middle of an owner's language."""
    folder = Path(settings.BASE_DIR, "templates")
    read = {path for pattern in OWNER_TEXTS for path in Path(settings.BASE_DIR).glob(pattern) if path.is_file()}
    reached = {path for path in read if path.is_relative_to(folder)}
    waiting = list(reached)
    while waiting:
        for name in TAKES_IN.findall(waiting.pop().read_text(encoding="utf-8")):
            if (part := folder / name) not in reached:
                reached.add(part)
                waiting.append(part)
    silent = {path for path in reached - read if not SPEAKS.search(path.read_text(encoding="utf-8"))}
    assert {folder / "styles.html", folder / "papers/page.html"} <= silent
    assert reached - read == silent


def test_no_text_hides_where_the_reader_cannot_see_it() -> None:
    """Inside an f-string's braces a text is invisible to every extractor, ours and gettext's."""
    hidden = re.compile(r"""\{\s*(?:_|n?gettext|pgettext)\(""")
    for pattern in OWNER_TEXTS:
        for path in Path(settings.BASE_DIR).glob(pattern):
            if path.suffix == ".py":
                assert not hidden.search(path.read_text(encoding="utf-8")), path


@pytest.mark.parametrize("language", TRANSLATED)
def test_every_text_is_translated_and_none_by_a_guess(language: str) -> None:
    catalog = translations(language)
    for message in texts():
        got = found(catalog, message)
        assert has_words(got.string), f"{language}: {message.id!r} has no translation"
        assert not got.fuzzy, f"{language}: {message.id!r} is a guess"


@pytest.mark.parametrize("language", TRANSLATED)
def test_every_translation_has_as_many_forms_as_its_language_needs(language: str) -> None:
    catalog = translations(language)
    assert catalog.num_plurals == (1 if language == "ja" else 2)
    for message in texts():
        if message.pluralizable:
            assert len(forms(found(catalog, message).string or "")) == catalog.num_plurals, message.id


@pytest.mark.parametrize("language", TRANSLATED)
def test_placeholders_and_marks_are_the_same_in_every_translation(language: str) -> None:
    catalog = translations(language)
    for message in texts():
        # A single form ("your watch") may leave out the number that the plural form names.
        allowed = {tuple(sorted(PLACEHOLDER.findall(form))) for form in forms(message.id)}
        if message.pluralizable:
            allowed.add(())
        for form in forms(found(catalog, message).string or ""):
            assert tuple(sorted(PLACEHOLDER.findall(form))) in allowed, f"{language}: {form!r}"


@pytest.mark.parametrize("language", TRANSLATED)
def test_a_number_is_left_out_only_where_one_is_meant(language: str) -> None:
    catalog = translations(language)
    for message in texts():
        if message.pluralizable:
            many = forms(found(catalog, message).string or "")[-1]
            assert sorted(PLACEHOLDER.findall(many)) == sorted(PLACEHOLDER.findall(forms(message.id)[-1])), many


NAMED = "%(what)s: %(said)s"
SAME_WORDS = {
    "fr": {"Position", "Signature", "Total"},
    "de": {NAMED},
    "it": {"No", NAMED},
    "es": {"No", "Total", NAMED},
}


@pytest.mark.parametrize("language", TRANSLATED)
def test_no_translation_is_only_the_english_again(language: str) -> None:
    """But for the words that are the same in both, each by name."""
    catalog = translations(language)
    same = {message.id for message in texts() if found(catalog, message).string == message.id}
    assert same == SAME_WORDS.get(language, set())


@pytest.mark.parametrize("language", TRANSLATED)
def test_the_site_speaks_the_translations_as_they_are_written(language: str) -> None:
    """A stale or missing .mo file would show here: ./run compiles them at set-up."""
    catalog = translations(language)
    with translation.override(language):
        for message in texts():
            written = found(catalog, message).string
            if isinstance(message.id, str):
                assert gettext(message.id) == written
            else:
                one, many = message.id
                assert ngettext(one, many, 5) == forms(written or "")[-1]


@pytest.mark.parametrize(
    ("language", "polite", "familiar"),
    [
        ("fr", r"\b[Vv]o(?:us|tre|s)\b", r"\b(?:tu|toi|ton|ta|tes)\b"),
        ("de", r"\b(?:Sie|Ihr|Ihre|Ihren|Ihnen)\b", r"\b(?:[Dd]u|[Dd]ich|[Dd]ir|[Dd]ein|[Dd]eine)\b"),
        ("it", r"\b(?:Lei|Le|Suo|Suoi|Sua|Sue)\b", r"\b(?:tu|tuo|tuoi|tua|tue)\b"),
        ("es", r"\b(?:[Uu]sted|suyo|suyos|su|sus|Su)\b", r"\b(?:tú|tu|tus|ti)\b"),
        ("ja", r"(?:です|ます|ください|ません|ございません)", r"(?:だよ|だね|くれ。)"),
    ],
)
def test_owners_are_spoken_to_politely(language: str, polite: str, familiar: str) -> None:
    words = " ".join(form for message in translations(language) if message.id for form in forms(message.string or ""))
    assert len(re.findall(polite, words)) > 15
    assert not re.search(familiar, words)


@pytest.mark.parametrize(
    ("written", "spoken"),
    [("de-AT", "de"), ("DE", "de"), ("fr_CH", "fr"), ("ja", "ja"), ("pt-BR", "en"), ("", "en"), ("tlh", "en")],
)
def test_a_language_the_house_does_not_write_falls_back_to_english(written: str, spoken: str) -> None:
    assert supported(written) == spoken


def test_a_text_without_a_translation_is_english_and_never_blank() -> None:
    for language in TRANSLATED:
        with translation.override(language):
            assert gettext("A sentence that nobody has translated.") == "A sentence that nobody has translated."


@pytest.mark.parametrize(
    ("language", "day"),
    [
        ("en", "5 May 2026"),
        ("fr", "5 mai 2026"),
        ("de", "5. Mai 2026"),
        ("it", "5 maggio 2026"),
        ("es", "5 de mayo de 2026"),
        ("ja", "2026年5月5日"),
    ],
)
def test_days_are_written_as_the_language_writes_them(language: str, day: str) -> None:
    with translation.override(language):
        assert date_format(date(2026, 5, 5)) == day
