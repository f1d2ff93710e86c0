"""Which words letters go out with: the house's, and those that each letter was written with."""

from collections.abc import Collection, Iterable, Sequence
from functools import lru_cache

from django.db.models import Max, QuerySet

from service_center.letters.composing.texts import our_text
from service_center.letters.composing.wording import House, Wording, wording_in, wording_of
from service_center.letters.models import HouseText, KeptWording, Letter


def latest_texts(language: str) -> dict[str, HouseText]:
    """What was saved last of each text that the house ever wrote in a language, by code. One statement."""
    return {row.code: row for row in _latest([language]).select_related("saved_by")}


def versions_of(language: str, code: str) -> list[HouseText]:
    """Everything that was ever saved of one text, the latest first. One statement."""
    rows = HouseText.objects.filter(language=language, code=code)
    return list(rows.select_related("saved_by").order_by("-pk"))


def house_texts(languages: Iterable[str]) -> dict[str, House]:
    """The house's own texts in force, by language. One statement."""
    found: dict[str, dict[str, str]] = {language: {} for language in languages}
    for language, code, text in _latest(found).exclude(text="").values_list("language", "code", "text"):
        found[language][code] = text
    return {language: frozenset(texts.items()) for language, texts in found.items()}


def wordings_now(languages: Iterable[str]) -> dict[str, Wording]:
    """The wording of these languages as it is in force. One statement."""
    return {language: wording_in(language, house) for language, house in house_texts(languages).items()}


def wordings_of(letters: Sequence[Letter], language: str | None = None) -> dict[int, Wording]:
    """The wording of each letter: what it was written with, else what is in force.

    `language`: to read them in another than their own, in which none was ever sent. Two statements at most.
    """
    spoken = {letter.pk: language or letter.language for letter in letters}
    kept = {letter.pk: letter.wording_id for letter in letters if letter.wording_id}
    as_sent = _kept(set(kept.values())) if kept else {}
    written = {pk: as_sent[row] for pk, row in kept.items() if as_sent[row].language == spoken[pk]}
    unwritten = {spoken[letter.pk] for letter in letters if letter.pk not in written}
    now = wordings_now(unwritten) if unwritten else {}
    return {letter.pk: written.get(letter.pk) or now[spoken[letter.pk]] for letter in letters}


def _kept(ids: Collection[int]) -> dict[int, Wording]:
    digests = dict(KeptWording.objects.filter(pk__in=ids).values_list("pk", "digest"))
    return {pk: _by_digest(digest) for pk, digest in digests.items()}


@lru_cache(maxsize=128)
def _by_digest(digest: str) -> Wording:
    """A digest names its texts for ever: they are read once a process."""
    kept = KeptWording.objects.get(digest=digest)
    return wording_of(kept.language, kept.texts)


def _latest(languages: Iterable[str]) -> QuerySet[HouseText]:
    last = HouseText.objects.filter(language__in=list(languages)).values("language", "code").annotate(last=Max("pk"))
    return HouseText.objects.filter(pk__in=last.values("last"))


def ours_has_changed(saved: HouseText) -> bool:
    """Whether our own text is another than the one that the house had before it when it saved its own."""
    return bool(saved.text) and saved.ours != our_text(saved.code, saved.language)
