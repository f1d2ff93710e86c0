"""How each language is written: its marks and spaces, and one word for one thing, over every text that an owner reads.

Sources: the words of the trade as ISO 3158 and ISO 22810 and the trade's own usage have them; marks and spaces after
common practice (Imprimerie nationale for French, Duden for German, RAE for Spanish, JIS X 4051 for Japanese).
"""

import re

import pytest
from babel.messages.catalog import Message

from service_center.letters.composing.texts import SLOTS
from service_center.owner_pages.catalogue import TRANSLATED, owner_texts, translations

TAG = re.compile(r"<[^>]+>")
HOLE = re.compile(r"%\((\w+)\)[sd]|\{(\w+)\}")
DAYS = "day|base|extended|extension|last|first|moved|on|made|until|work"


def forms(text: str | tuple[str, ...] | list[str] | None) -> list[str]:
    return [text] if isinstance(text, str) else list(text or ())


def written(language: str) -> list[tuple[str, str]]:
    """Every text in a language beside its English, form by form."""
    catalog = translations(language)
    pairs = []
    for message in owner_texts():
        if message.id:
            got = catalog.get(forms(message.id)[0], context=message.context)
            assert isinstance(got, Message), message.id
            pairs += [(forms(message.id)[-1], form) for form in forms(got.string)]
    return pairs


def words(language: str) -> list[str]:
    """The words alone: no tags, and a letter for what is filled in."""
    return [HOLE.sub("X", TAG.sub("", form)) for _english, form in written(language)]


@pytest.mark.parametrize("language", TRANSLATED)
def test_apostrophes_and_quotes_are_those_of_print(language: str) -> None:
    assert [form for form in words(language) if "'" in form or '"' in form] == []


def test_french_sets_a_space_that_does_not_break_beside_its_high_marks() -> None:
    right = re.compile(r"\N{NARROW NO-BREAK SPACE}[;?!]|\N{NO-BREAK SPACE}[:»]|«\N{NO-BREAK SPACE}")
    for form in words("fr"):
        assert not re.search("[:;?!«»]", right.sub("", form)), form


def test_german_quotes_stand_low_and_high() -> None:
    for form in words("de"):
        assert form.count("„") == form.count("“") and not re.search("[”«»]", form), form


def test_spanish_opens_what_it_asks() -> None:
    for form in words("es"):
        assert form.count("¿") == form.count("?") and form.count("¡") == form.count("!"), form


def test_japanese_marks_are_full_width() -> None:
    for form in words("ja"):
        assert not re.search("[:;?!(),~]", form), form


def test_italian_sets_no_article_before_a_day() -> None:
    """It would be wrong on two days of every month: l’8 maggio, l’11 maggio."""
    article = re.compile(rf"\b(?:il|al|dal|del|nel) (?:%\((?:{DAYS})\)s|{{day}})", re.IGNORECASE)
    assert [form for _english, form in written("it") if article.search(form)] == []


def test_italian_has_no_its_that_could_be_a_small_your() -> None:
    """Il Suo is theirs; the watch's own things go without a pronoun."""
    assert [form for form in words("it") if re.search(r"\b(?:suo|sua|suoi|sue)\b", form)] == []


def test_spanish_names_the_watch_where_su_could_be_the_owners() -> None:
    assert [form for form in words("es") if re.search(r"\b[Ss]u (?:caja|garantía)\b", form)] == []


@pytest.mark.parametrize(("language", "before"), [("es", "antes del"), ("fr", "avant le")])
def test_by_a_day_is_that_day_included(language: str, before: str) -> None:
    """Before it would be a day too early."""
    by_a_day = re.compile(rf"\bby (?:%\((?:{DAYS})\)s|{{day}})")
    texts = [(english, form) for english, form in written(language) if by_a_day.search(english)]
    assert len(texts) >= 8
    too_early = re.compile(rf"{before} (?:%\((?:{DAYS})\)s|{{day}})")
    assert [form for _english, form in texts if too_early.search(form)] == []


@pytest.mark.parametrize(("language", "polite"), [("de", ("Ihr", "Sie")), ("it", ("Le ", "Lei "))])
def test_a_letter_goes_on_small_after_its_greeting(language: str, polite: tuple[str, ...]) -> None:
    """Its greeting ends with a comma, so that only what is always large is large."""
    catalog = translations(language)
    openings = [catalog.get(slot.ours) for code, slot in SLOTS.items() if code.endswith(".opening")]
    assert len(openings) > 10
    for message in openings:
        assert message is not None
        [text] = forms(message.string)
        assert text[0].islower() or text.startswith((*polite, "{")), text


# One word for one thing (design, glossary): where English says the first, each language says its own.
GLOSSARY = {
    r"overhauls?": {
        "fr": "révision complète",
        "de": "Revision",
        "it": "revisione",
        "es": "revisión completa",
        "ja": "オーバーホール",
    },
    r"tightness (?:check|test)s?": {
        "fr": "contrôles? d’étanchéité",
        "de": "Wasserdichtheitsprüfung",
        "it": "controll[oi] (?:annuale )?dell’impermeabilità",
        "es": "pruebas? (?:anual )?de estanqueidad",
        "ja": "防水検査",
    },
    r"amplitude": {"fr": "amplitude", "de": "Amplitude", "it": "ampiezza", "es": "amplitud", "ja": "振り角"},
    r"rate": {"fr": "marche", "de": "Gang", "it": "marcia", "es": "marcha", "ja": "歩度"},
    r"beat error": {
        "fr": "défaut de repère",
        "de": "Abfallfehler",
        "it": "errore di battito",
        "es": "error de batido",
        "ja": "片振り",
    },
    r"gaskets?": {"fr": "joints?", "de": "Dichtung", "it": "guarnizion[ei]", "es": "juntas?", "ja": "パッキン"},
    r"crown": {"fr": "couronne", "de": "Krone", "it": "corona", "es": "corona", "ja": "りゅうず"},
    r"crystal": {"fr": "glace", "de": "Glas", "it": "vetro", "es": "cristal", "ja": "風防"},
    r"case(?! back)": {"fr": "boîtier", "de": "Gehäuse", "it": "cassa", "es": "caja", "ja": "ケース"},
    r"calibre": {"fr": "calibre", "de": "Kaliber", "it": "calibro", "es": "calibre", "ja": "キャリバー"},
    r"guarantee": {"fr": "garanti", "de": "Garantie", "it": "garan[tz]i", "es": "garant", "ja": "保証"},
    # The receipt's is a rough one, before anybody has looked inside: no estimate that binds.
    r"(?<!rough )estimate(?!, before)": {
        "fr": "devis",
        "de": "Kostenvoranschlag",
        "it": "preventivo",
        "es": "presupuesto",
        "ja": "見積",
    },
    r"receipt": {"fr": "reçu", "de": "Beleg", "it": "ricevuta", "es": "recibo", "ja": "預り証"},
    r"visits?": {"fr": "rendez-vous", "de": "Termin", "it": "visit[ae]", "es": "citas?", "ja": "来店|予約|日時"},
    r"workshop": {"fr": "atelier", "de": "Werkstatt", "it": "laboratorio", "es": "taller", "ja": "工房"},
    r"boutiques?": {
        "fr": "boutique",
        "de": "Boutique",
        "it": "boutique",
        "es": "boutique",
        "ja": "ブティック|boutique",
    },
}
# Words that another word of ours stands for already, or that a fine house does not use.
NEVER = {
    "fr": "test d’étanchéité|boîte|comptoir|commande|verre",
    "de": r"(?<!Wasser)Dichtheitsprüfung|Besuch|Tresen",
    "it": r"prov[ae] di impermeabilità|revisione completa|al banco|\bordin[ei]\b",
    "es": "hermétic|hermeticidad|control de estanqueidad|visita|mostrador",
    "ja": "計測|当方|裏ぶた|中留|修理報告書|おすすめ",
}


@pytest.mark.parametrize("language", TRANSLATED)
@pytest.mark.parametrize("english", GLOSSARY)
def test_one_word_for_one_thing(language: str, english: str) -> None:
    says = re.compile(rf"\b{english}\b", re.IGNORECASE)
    ours = re.compile(GLOSSARY[english][language], re.IGNORECASE)
    told = [(text, form) for text, form in written(language) if says.search(HOLE.sub("X", text))]
    assert told
    assert [one for one in told if not ours.search(one[1])] == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_no_second_word_for_it(language: str) -> None:
    never = re.compile(NEVER[language], re.IGNORECASE)
    assert [form for form in words(language) if never.search(form)] == []
