"""Every text that an owner reads, and its translations in service_center/locale (gettext .po files).

The texts are read out of the templates and modules named here, by the same reader Django uses, without the
gettext tools; Babel keeps the .po files and compiles them.
"""

import io
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po
from django.conf import settings
from django.utils.translation.template import templatize

OWNER_TEXTS = [
    "templates/owner_base.html",
    "templates/forms/errors.html",
    "templates/forms/field.html",
    "templates/forms/said.html",
    "templates/owner_pages/**/*",
    "templates/letters/mail/**/*",
    "templates/letters/paper.html",
    "templates/intake/receipt*",
    "service_center/letters/composing/*.py",
    "service_center/book/wording.py",
    "service_center/intervals/owner_words.py",
    "service_center/guarantee/words.py",
    "service_center/guarantee/finding_words.py",
    "service_center/bench/pictures.py",
    "service_center/bench/report.py",
    "service_center/bench/said.py",
    "service_center/bench/wording.py",
    "templates/bench/report.html",
    "templates/guarantee/card.html",
    "templates/guarantee/estimate.html",
    "service_center/owner_pages/*.py",
    "service_center/intake/papers.py",
    "service_center/intake/wording.py",
    "service_center/intake/signing/statement.py",
    "service_center/intake/visits/calendar_entry.py",
]
KEYWORDS = {
    "_": None,
    "gettext": None,
    "gettext_lazy": None,
    "gettext_noop": None,
    "ngettext": (1, 2),
    "ngettext_lazy": (1, 2),
    "pgettext": ((1, "c"), 2),
    "pgettext_lazy": ((1, "c"), 2),
    "npgettext": ((1, "c"), 2, 3),
}
# Django's own Italian writes the months large; these few words of it are ours and stand in no text.
MONTHS = "alt. month"
HEADER = "# Every text that an owner reads. Kept by: python manage.py update_translations"
TRANSLATED = [code for code, _name in settings.LANGUAGES if code != settings.LANGUAGE_CODE]


def file_of(language: str) -> Path:
    """Where the translations of a language are kept."""
    return Path(settings.LOCALE_PATHS[0]) / language / "LC_MESSAGES" / "django.po"


def translations(language: str) -> Catalog:
    """The translations of a language as they are written."""
    file = file_of(language)
    if not file.exists():
        return Catalog(language, domain="django", project="service-center", header_comment=HEADER, fuzzy=False)
    with file.open("rb") as po:
        return read_po(po, locale=language, domain="django")


def owner_texts() -> Catalog:
    """Every text that an owner reads, in English, each with the files it stands in."""
    texts = Catalog(domain="django", project=None, charset="utf-8")
    for path in _sources():
        for _line, text, _comments, context in _texts_in(path):
            texts.add(text, locations=[(path.relative_to(settings.BASE_DIR).as_posix(), 0)], context=context)
    return texts


def bring_up_to_date(language: str) -> tuple[int, int]:
    """Write a language's file anew for the texts of today. Returns how many there are, and how many still lack words.

    Texts that nobody reads any more are dropped; a text that changed waits for a translator, never for a guess.
    """
    kept = translations(language)
    months = [message for message in kept if message.context == MONTHS]
    kept.update(owner_texts(), no_fuzzy_matching=True, update_creation_date=False)
    kept.obsolete.clear()
    for month in months:
        kept[month.id] = month
    file = file_of(language)
    file.parent.mkdir(parents=True, exist_ok=True)
    with file.open("wb") as po:
        write_po(po, kept, width=110, omit_header=False, sort_output=True, include_lineno=False)
    texts = [message for message in kept if message.id]
    return len(texts), len([message for message in texts if not has_words(message.string)])


def has_words(translation: str | tuple[str, ...] | list[str] | None) -> bool:
    """Whether every form of a translation is written."""
    forms = [translation] if isinstance(translation, str) else list(translation or ())
    return bool(forms) and all(forms)


def _sources() -> list[Path]:
    found = {path for pattern in OWNER_TEXTS for path in Path(settings.BASE_DIR).glob(pattern) if path.is_file()}
    return sorted(found)


def _texts_in(path: Path) -> Iterator[tuple[int, str | tuple[str, ...], list[str], str | None]]:
    code = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        code = templatize(code, origin=path.name)
    yield from extract("python", io.BytesIO(code.encode()), keywords=KEYWORDS)
