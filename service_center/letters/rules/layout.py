"""How words stand in a line: width as people see it, breaks where the script has them, names of other directions."""

import re
import unicodedata
from functools import lru_cache

TEXT_WIDTH = 76
# Around a name whose letters run the other way, so that what stands beside it keeps its place (UAX 9, 2.4).
ISOLATE, END_OF_ISOLATE = "\u2068", "\u2069"
RIGHT_TO_LEFT = {"R", "AL"}
DIRECTION_MARKS = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
# Below this code point no letter runs from right to left.
FIRST_RIGHT_TO_LEFT = "\u0590"
# Blocks in which characters are wide (UAX 11); each character is asked for itself then.
MAYBE_WIDE = re.compile(
    "[\u1100-\u115f\u231a-\u2bff\u2e80-\ua4cf\ua960-\ua97f\uac00-\ud7a3\uf900-\ufaff\ufe30-\ufe6f\uff00-\uff60"
    "\uffe0-\uffe6\U00016fe0-\U0001b2ff\U0001f000-\U0003ffff]"
)
JOINER = "\u200d"
# No line of Japanese begins with these, and none ends with those (JIS X 4051, common practice).
NEVER_FIRST = set("、。，．・：；？！）］｝〉》」』】〕ーぁぃぅぇぉっゃゅょァィゥェォッャュョ々ゝゞ%％")
NEVER_LAST = set("（［｛〈《「『【〔￥＄")


@lru_cache(maxsize=4096)
def isolated(name: str) -> str:
    """A name as it may stand in a sentence: where it runs from right to left, set apart from what stands beside it.

    Its own direction marks are taken out: nobody turns a letter's lines round by a name.
    """
    if not name or max(name) < FIRST_RIGHT_TO_LEFT:
        return name
    plain = DIRECTION_MARKS.sub("", name)
    runs_back = any(unicodedata.bidirectional(char) in RIGHT_TO_LEFT for char in plain)
    return f"{ISOLATE}{plain}{END_OF_ISOLATE}" if runs_back else plain


def columns(text: str) -> int:
    """How many columns a text takes in a typewriter face: wide characters take two, marks none."""
    if not text or max(text) < "\u0300":
        return len(text)
    return sum(_columns(char) for char in text)


def wrapped(text: str, width: int = TEXT_WIDTH) -> str:
    """Plain text as people send it: lines of a readable width, at most one blank line together, links whole."""
    lines: list[str] = []
    for line in text.strip().splitlines():
        # No-break spaces stay: French sets them before a colon, and no line may begin with one.
        words = " ".join(filter(None, line.replace("\t", " ").split(" ")))
        if words:
            lines += _broken(words, width)
        elif lines and lines[-1]:
            lines.append("")
    return "\n".join(lines) + "\n"


@lru_cache(maxsize=4096)
def _broken(text: str, width: int) -> list[str]:
    """One line as several; most sentences of a letter are those of the letter before. Not to be changed by its caller."""
    if MAYBE_WIDE.search(text):
        return _filled(_units(text), width)
    if len(text) <= width:
        return [text]
    lines: list[str] = []
    at = ""
    for word in text.split(" "):
        if not at:
            at = word
        elif len(at) + 1 + len(word) <= width:
            at += " " + word
        else:
            lines.append(at)
            at = word
    return [*lines, at]


def _units(text: str) -> list[str]:
    """What stays together: a word with the space before it, or one wide character with what may not stand apart."""
    units: list[str] = []
    for char in text:
        if not units:
            units.append(char)
        elif _binds(units[-1][-1], char):
            units[-1] += char
        else:
            units.append(char)
    return units


def _binds(before: str, char: str) -> bool:
    if char == " ":
        return False
    if char in NEVER_FIRST or before in NEVER_LAST or before in (" ", JOINER) or _columns(char) == 0:
        return True
    return _columns(before) != 2 and _columns(char) != 2


def _filled(units: list[str], width: int) -> list[str]:
    lines: list[str] = []
    at, taken = "", 0
    for unit in units:
        size = columns(unit)
        if at and taken + size > width:
            lines.append(at)
            at, taken = "", 0
            unit = unit.lstrip(" ")  # noqa: PLW2901  # a line does not begin with the space it was broken at
            size = columns(unit)
        at += unit
        taken += size
    return [*lines, at] if at else lines


@lru_cache(maxsize=8192)
def _columns(char: str) -> int:
    if unicodedata.category(char) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(char) in ("W", "F") else 1
