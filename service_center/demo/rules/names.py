"""Names, telephones and addresses of people who do not exist, in the scripts of the world.

Family names are put together from parts. Addresses stand under owners.example, which RFC 2606 keeps free;
telephones come from ranges kept for fiction where a country has one, and otherwise from numbers that no
exchange gives out (a subscriber's part of 0000).
"""

import random
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class People:
    """Of one language: where they live, how they are called, and how likely one of them walks in."""

    language: str
    homes: tuple[tuple[str, str, str], ...]  # country, time zone, telephone with * for a digit
    given: tuple[str, ...]
    family: tuple[tuple[str, ...], tuple[str, ...]]
    form: str = "{given} {family}"
    latin: bool = True


ENGLISH = People(
    "en",
    (
        ("GB", "Europe/London", "+44 20 7946 0***"),  # kept for fiction
        ("GB", "Europe/London", "+44 7700 900***"),  # kept for fiction
        ("IE", "Europe/Dublin", "+353 1 000 0***"),
        ("US", "America/New_York", "+1 212 555 01**"),  # kept for fiction
        ("US", "America/Los_Angeles", "+1 310 555 01**"),  # kept for fiction
        ("AU", "Australia/Sydney", "+61 2 5550 0***"),
    ),
    ("Ada", "Edith", "Maud", "Iris", "Nell", "Tess", "Orla", "June", "Amos", "Hugh", "Silas", "Owen", "Ralph", "Ivor"),
    (
        ("Harrow", "Thistle", "Ash", "Wren", "Marl", "Fen", "Lark", "Brack", "Holm", "Tarn", "Sedge", "Rook"),
        ("combe", "wood", "ley", "wick", "field", "brook", "by", "stead", "more", "dale"),
    ),
)
FRENCH = People(
    "fr",
    (
        ("FR", "Europe/Paris", "+33 1 99 00 ** **"),  # kept for fiction
        ("FR", "Europe/Paris", "+33 6 39 98 ** **"),  # kept for fiction
        ("CH", "Europe/Zurich", "+41 22 000 0* **"),
        ("CA", "America/Toronto", "+1 514 555 01**"),  # kept for fiction
    ),
    ("Chloé", "Élodie", "Maëlle", "Noémie", "Inès", "Agnès", "Rémi", "Anaël", "Gaspard", "Léonce", "Théo", "Octave"),
    (
        ("Beau", "Clair", "Val", "Roche", "Mont", "Haute", "Belle", "Noire"),
        ("fontaine", "vigne", "serre", "lande", "combe", "prairie", "rive"),
    ),
)
GERMAN = People(
    "de",
    (
        ("DE", "Europe/Berlin", "+49 30 23125 ***"),  # kept for fiction
        ("AT", "Europe/Vienna", "+43 1 0000 ***"),
        ("CH", "Europe/Zurich", "+41 44 000 0* **"),
    ),
    ("Käthe", "Jörg", "Ute", "Änne", "Lutz", "Greta", "Jonas", "Frieda", "Björn", "Hedwig", "Ruprecht", "Wiebke"),
    (
        ("Linden", "Stein", "Eber", "Wald", "Grün", "Hasel", "Möwen", "Schilf", "Birken"),
        ("thal", "bach", "hofer", "brink", "müller", "wieser", "rieder", "kamp"),
    ),
)
ITALIAN = People(
    "it",
    (("IT", "Europe/Rome", "+39 06 0000 ****"), ("IT", "Europe/Rome", "+39 02 0000 ****")),
    ("Ginevra", "Niccolò", "Lavinia", "Tommaso", "Fiorenza", "Ettore", "Viola", "Corrado", "Isotta", "Amedeo"),
    (
        ("Monte", "Acqua", "Fiore", "Casa", "Bosco", "Valle", "Chiara", "Torre"),
        ("verde", "lunga", "nova", "serena", "bruna", "scura", "dolce"),
    ),
)
SPANISH = People(
    "es",
    (
        ("ES", "Europe/Madrid", "+34 910 000 ***"),
        ("MX", "America/Mexico_City", "+52 55 0000 ****"),
        ("CL", "America/Santiago", "+56 2 0000 ****"),
    ),
    ("Íñigo", "Nuria", "Begoña", "Álvaro", "Lucía", "Martín", "Candela", "Ramón", "Inés", "Joaquín", "Pilar"),
    (
        ("Fuente", "Robles", "Peña", "Rio", "Campo", "Sierra", "Torre", "Monte"),
        ("blanca", "alta", "seca", "clara", "bermeja", "honda", "serena"),
    ),
)
JAPANESE = People(
    "ja",
    (("JP", "Asia/Tokyo", "+81 3 0000 ****"), ("JP", "Asia/Tokyo", "+81 6 0000 ****")),
    ("美緒", "悠人", "千夏", "航平", "彩乃", "陽向", "志保", "蒼", "和泉", "直樹", "灯里", "すみれ"),
    (("白", "青", "霧", "松", "石", "雪", "風", "森", "潮"), ("崎", "瀬", "原", "沢", "浜", "守", "ヶ谷")),
    form="{family} {given}",
    latin=False,
)
GREEK = People(
    "el",
    (("GR", "Europe/Athens", "+30 21 0000 ****"), ("CY", "Asia/Nicosia", "+357 22 00 ****")),
    ("Ελένη", "Σταύρος", "Δάφνη", "Μάρκος", "Ιφιγένεια", "Φοίβος", "Ξένια", "Θάνος"),
    (("Πετρ", "Θαλασσ", "Αμπελ", "Κυμ", "Ελατ", "Καλαμ"), ("άκης", "όπουλος", "ίδης", "άδης", "έας")),
    latin=False,
)
BULGARIAN = People(
    "bg",
    (("BG", "Europe/Sofia", "+359 2 000 ****"),),
    ("Росица", "Борис", "Ивайло", "Снежана", "Калоян", "Десислава", "Явор", "Милена"),
    (("Камен", "Дъбр", "Ясен", "Речн", "Върб", "Полян"), ("ски", "аров", "ов", "еев", "ишки")),
    latin=False,
)
CHINESE = People(
    "zh",
    (
        ("CN", "Asia/Shanghai", "+86 21 0000 ****"),
        ("TW", "Asia/Taipei", "+886 2 0000 ****"),
        ("HK", "Asia/Hong_Kong", "+852 0000 ****"),
    ),
    ("思远", "雨桐", "子墨", "嘉宁", "清和", "若溪", "明轩", "书瑶", "望舒", "知微"),
    (("林", "江", "沈", "陆", "温", "叶", "顾", "孟"), ("",)),
    form="{family}{given}",
    latin=False,
)
KOREAN = People(
    "ko",
    (("KR", "Asia/Seoul", "+82 2 0000 ****"),),
    ("서윤", "도현", "하린", "지호", "은별", "시우", "나래", "가온", "새봄", "다온"),
    (("강", "문", "서", "한", "남궁", "선우", "윤", "백"), ("",)),
    form="{family}{given}",
    latin=False,
)
ARABIC = People(
    "ar",
    (("AE", "Asia/Dubai", "+971 4 000 ****"), ("EG", "Africa/Cairo", "+20 2 0000 ****")),
    ("ليلى", "يوسف", "سلمى", "طارق", "نور", "كريم", "ريم", "هاني", "مها", "زياد"),
    (("ال",), ("نخيل", "ساحلي", "بستاني", "ينبوع", "وادي", "مرجان", "سنديان")),
    latin=False,
)
HEBREW = People(
    "he",
    (("IL", "Asia/Jerusalem", "+972 2 000 ****"),),
    ("נועה", "איתן", "תמר", "יונתן", "שירה", "אלון", "הדס", "גיל", "מאיה", "עידו"),
    (("בר", "אבן", "גל", "הר", "עין"), (" ים", "־אור", " גפן", "־זית", " צור")),
    latin=False,
)

# Who walks into which boutique: people, and their weight there.
VISITORS: dict[str, tuple[tuple[People, int], ...]] = {
    "HAR": ((ENGLISH, 74), (GERMAN, 12), (FRENCH, 4), (SPANISH, 4), (HEBREW, 2), (ARABIC, 2), (GREEK, 2)),
    "EST": (
        (FRENCH, 40), (ITALIAN, 18), (GERMAN, 14), (SPANISH, 14), (ENGLISH, 4), (GREEK, 3), (BULGARIAN, 3), (ARABIC, 4),
    ),
    "KAZ": ((JAPANESE, 70), (CHINESE, 13), (KOREAN, 12), (ENGLISH, 5)),
}  # fmt: skip

ROMAN = str.maketrans("éèêëáàâäíìîïóòôöúùûüñçßÉÁÍÄÖÜ", "eeeeaaaaiiiioooouuuuncseaiaou")


def somebody(dice: random.Random, people: People, number: int) -> dict[str, str]:
    """A line of owners.csv, apart from whether they want letters."""
    first, second = people.family
    given, family = dice.choice(people.given), dice.choice(first) + dice.choice(second)
    country, time_zone, telephone = dice.choice(people.homes)
    mailbox = f"{given}.{family}".lower().translate(ROMAN).replace(" ", "") if people.latin else "owner"
    return {
        "owner": f"O{number:05d}",
        "name": people.form.format(given=given, family=family),
        "email": f"{mailbox}.{number}@owners.example",
        "phone": "".join(str(dice.randrange(10)) if char == "*" else char for char in telephone),
        "language": people.language,
        "country": country,
        "time_zone": time_zone,
    }
