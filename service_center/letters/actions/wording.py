"""What the house makes of the words of its letters: saving its own, going back to ours, keeping what was sent."""

from collections.abc import Collection, Mapping
from datetime import datetime

from django.db import IntegrityError, transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.letters.composing.texts import SLOTS, our_text
from service_center.letters.models import HouseText, KeptWording
from service_center.letters.queries.wording import latest_texts, wordings_now
from service_center.letters.rules.wording import Found, flaws_of, tidied


class UnusableTexts(Exception):  # noqa: N818  # a refusal: nothing was saved
    """Texts that cannot be used, by code, with everything that is wrong with each."""

    def __init__(self, flaws: Mapping[str, list[Found]]) -> None:
        self.flaws = dict(flaws)
        super().__init__(", ".join(f"{code}: {found[0].flaw}" for code, found in flaws.items()))


class SavedMeanwhile(Exception):  # noqa: N818  # a refusal: nothing was saved
    """Somebody else saved a text since the page was shown: theirs stands, by code."""

    def __init__(self, rows: Mapping[str, HouseText]) -> None:
        self.rows = dict(rows)
        super().__init__(", ".join(rows))


@transaction.atomic
def save_texts(
    language: str, texts: Mapping[str, str], *, seen: Mapping[str, int], by: Staff, now: datetime
) -> list[HouseText]:
    """Put the house's words in place of ours, from the next letter on. Returns what changed.

    `seen`: the row of each text that the writer had before them, 0 for none.
    A text that is ours, word for word, counts as ours: it follows our later releases. Raises UnusableTexts or
    SavedMeanwhile; nothing is saved then.
    """
    wanted = {code: tidied(text) for code, text in texts.items()}
    flaws = {code: found for code, text in wanted.items() if (found := flaws_of(text, SLOTS[code]))}
    if flaws:
        raise UnusableTexts(flaws)
    latest = latest_texts(language)
    changed = {code: text for code, text in wanted.items() if text != _in_force(latest.get(code), code, language)}
    theirs = {code: latest[code] for code in changed if code in latest and latest[code].pk != seen.get(code, 0)}
    if theirs:
        raise SavedMeanwhile(theirs)
    try:
        with transaction.atomic():
            return [_save(language, code, text, latest.get(code), by=by, now=now) for code, text in changed.items()]
    except IntegrityError as second:  # one_text_follows_another: somebody saved between the reading and this
        latest = latest_texts(language)
        raise SavedMeanwhile({code: latest[code] for code in changed if code in latest}) from second


@transaction.atomic
def back_to_ours(language: str, code: str, *, seen: int, by: Staff, now: datetime) -> HouseText | None:
    """Take our text again. None where it is ours already.

    `seen`: the row that they had before them. Raises SavedMeanwhile where the house's text is another by now.
    """
    before = latest_texts(language).get(code)
    if before is None or not before.text:
        return None
    if before.pk != seen:
        raise SavedMeanwhile({code: before})
    try:
        with transaction.atomic():
            return _save(language, code, our_text(code, language), before, by=by, now=now)
    except IntegrityError as second:  # one_text_follows_another: somebody saved between the reading and this
        latest = latest_texts(language)[code]
        if not latest.text:
            return None
        raise SavedMeanwhile({code: latest}) from second


def _in_force(latest: HouseText | None, code: str, language: str) -> str:
    return latest.text if latest and latest.text else our_text(code, language)


def _save(language: str, code: str, text: str, before: HouseText | None, *, by: Staff, now: datetime) -> HouseText:
    ours = our_text(code, language)
    row = HouseText.objects.create(
        language=language,
        code=code,
        text="" if text == ours else text,
        ours=ours,
        follows=before.pk if before else 0,
        saved_at=now,
        saved_by=by,
    )
    leave_trail(
        by=by,
        deed="wording_changed",
        subject=f"wording:{language}:{code}",
        before={"text": _in_force(before, code, language)},
        after={"text": text, "ours": text == ours},
    )
    return row


def keep_wordings(languages: Collection[str]) -> dict[str, KeptWording]:
    """The wording of these languages that is in force, kept for the letters that go out with it. Two statements.

    The first letter after a change writes it down; every later one finds it.
    """
    now = wordings_now(languages)
    digests = [wording.digest for wording in now.values()]
    kept = {row.digest: row for row in KeptWording.objects.filter(digest__in=digests).defer("texts")}
    for language, wording in sorted(now.items()):  # in one order: two senders that write them wait in no ring
        if wording.digest not in kept:
            kept[wording.digest], _new = KeptWording.objects.get_or_create(
                digest=wording.digest, defaults={"language": language, "texts": dict(wording.texts)}
            )
    return {language: kept[wording.digest] for language, wording in now.items()}
