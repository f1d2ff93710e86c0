"""How an owner is spoken to: in which language.

Languages are those of settings.LANGUAGES; an owner's language the house does not write falls back to English.
"""

from django.conf import settings
from django.utils.translation import get_language_info

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


def name_of_language(tag: str) -> str:
    """A language as staff call it, `ko` Korean; a tag that nobody has a name for stands as it is."""
    try:
        return str(get_language_info(tag.replace("_", "-").lower())["name_translated"])
    except KeyError:
        return tag
