"""The wording of one language as it stands at a moment: ours, with the house's own texts in their places."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from django.utils import translation

from service_center.book.days import day_written
from service_center.letters.composing.texts import SLOTS, our_text
from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.wording import Text, cut, flaws_of

House = frozenset[tuple[str, str]]
OURS_ALONE: House = frozenset()


@dataclass(frozen=True, slots=True)
class Wording:
    """Every text of one language. `digest` is its name: the same texts always have the same."""

    language: str
    texts: Mapping[str, str]
    digest: str
    _cut: Mapping[str, Text]

    def say(self, code: str, **values: str) -> str:
        """One text with its values; it never fails."""
        return self._cut[code].say(values)

    def subject(self, code: str, **values: str) -> str:
        """A subject line. Where the house's own names nothing but what is not known, ours says what it is about."""
        said = one_line(self.say(code, **values))
        return said or one_line(cut(our_text(code, self.language)).say(values))


@lru_cache(maxsize=128)
def wording_in(language: str, house: House = OURS_ALONE) -> Wording:
    """The wording of a language. `house`: codes with the house's own texts.

    A text that cannot be used (an earlier release knew another name) gives way to ours: a letter never fails for it.
    """
    own = {code: text for code, text in house if code in SLOTS and not flaws_of(text, SLOTS[code])}
    texts = {code: own.get(code) or our_text(code, language) for code in SLOTS}
    written = json.dumps([language, sorted(texts.items())], ensure_ascii=False)
    digest = hashlib.sha256(written.encode("utf-8", "surrogatepass")).hexdigest()
    return Wording(language, texts, digest, {code: cut(text) for code, text in texts.items()})


def wording_of(language: str, texts: Mapping[str, str]) -> Wording:
    """A wording that was kept with its letters. A text that it knew nothing of is ours."""
    return wording_in(language, frozenset(texts.items()))


@lru_cache(maxsize=8192)
def day_in(language: str, day: date) -> str:
    """A day as the language writes it."""
    with translation.override(language):
        return day_written(day)
