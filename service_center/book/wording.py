"""How an owner is spoken to: in which language, and how its words stand side by side.

Languages are those of settings.LANGUAGES; an owner's language the house does not write falls back to English.
"""

from collections.abc import Iterable

from django.conf import settings
from django.utils.translation import get_language, get_language_info
from django.utils.translation import gettext as _

from service_center.book.models import Owner

FALLBACK = "en"
WITHOUT_SPACES = ("ja",)


def language_of(owner: Owner) -> str:
    """The language to write to an owner in: theirs (`de-AT` is German), or English, never none."""
    return supported(owner.language)


def supported(language: str) -> str:
    """One of settings.LANGUAGES for any BCP 47 tag; English where the house has no words."""
    base = language.replace("_", "-").split("-")[0].strip().lower()
    return base if base in dict(settings.LANGUAGES) else FALLBACK


def one_after_another(language: str, *sentences: str) -> str:
    """Sentences side by side, with a space between them in languages that put one."""
    return ("" if supported(language) in WITHOUT_SPACES else " ").join(one for one in sentences if one)


def said_of(what: str, said: str) -> str:
    """A thing and what is said of it, in the language that is active: French sets a space before the colon."""
    return _("%(what)s: %(said)s") % {"what": what, "said": said}


def quoted(words: str) -> str:
    """Somebody's own words, between the quotes of the language that is active."""
    return _("“%(words)s”") % {"words": words}


def listed(words: Iterable[str]) -> str:
    """Words one after another, as the language that is active parts them."""
    return listed_in(get_language() or FALLBACK, words)


def listed_in(language: str, words: Iterable[str]) -> str:
    """Words one after another, as a language parts them."""
    return ("、" if supported(language) in WITHOUT_SPACES else ", ").join(words)


def name_of_language(tag: str) -> str:
    """A language as staff call it, `ko` Korean; a tag that nobody has a name for stands as it is."""
    try:
        return str(get_language_info(tag.replace("_", "-").lower())["name_translated"])
    except KeyError:
        return tag
