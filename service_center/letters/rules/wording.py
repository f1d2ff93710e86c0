"""The house's own wording: texts with placeholders in the trade's terms, and what is wrong with one (design/letters.md).

`{owner}` stands for a value, `{{` and `}}` for braces. Nothing else is understood, and nothing is carried out: a text
is cut into pieces when it is read, and values are put between them.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from service_center.letters.rules.addressing import BREAKS

TOKEN = re.compile(r"\{\{|\}\}|\{([^{}]*)\}|[{}]")
NAME = re.compile(r"[a-z]+")


class Flaw(StrEnum):
    """Why a text cannot be used."""

    EMPTY = "empty"
    TOO_LONG = "too_long"
    LINE_BREAK = "line_break"
    CONTROL = "control"  # a character that nobody sees
    OPEN_BRACE = "open_brace"  # "{" that nothing closes
    LOOSE_BRACE = "loose_brace"  # "}" that nothing opened
    BAD_NAME = "bad_name"  # what stands between the braces is no name
    UNKNOWN = "unknown"  # a name that this text has no value for
    MISSING = "missing"  # a name that this text cannot do without


class Found(NamedTuple):
    """One flaw, and what shows it: the name, the braces, or the number of characters allowed."""

    flaw: Flaw
    what: str = ""


@dataclass(frozen=True, slots=True)
class Slot:
    """One text of a letter: what may and must be named in it, whether it is one line, how many characters at most."""

    code: str
    ours: str
    may: frozenset[str] = frozenset()
    must: frozenset[str] = frozenset()
    one_line: bool = True
    most: int = 300


@dataclass(frozen=True, slots=True)
class Text:
    """A text cut at its placeholders: what stands before each, its name; and what stands after the last."""

    before: tuple[tuple[str, str], ...]
    rest: str

    def say(self, values: Mapping[str, str]) -> str:
        """The text with its values. A name without a value leaves nothing: a letter never fails for its words."""
        if not self.before:
            return self.rest
        said = "".join([part for literal, name in self.before for part in (literal, values.get(name, ""))])
        return said + self.rest


def tidied(text: str) -> str:
    """A text as it is kept: composed characters, line ends of one kind, no space at the end of a line or around."""
    lines = unicodedata.normalize("NFC", text).replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return "\n".join(line.rstrip() for line in lines).strip()


def flaws_of(text: str, slot: Slot) -> list[Found]:
    """Everything that is wrong with a text for its place; empty where it can be used."""
    found: list[Found] = []
    if not text.strip():
        return [Found(Flaw.EMPTY)]
    if len(text) > slot.most:
        found.append(Found(Flaw.TOO_LONG, str(slot.most)))
    if slot.one_line and "\n" in text:
        found.append(Found(Flaw.LINE_BREAK))
    hidden = [char for char in text if char != "\n" and unicodedata.category(char) in BREAKS]
    if hidden:
        found.append(Found(Flaw.CONTROL, f"U+{ord(hidden[0]):04X}"))
    names, broken = _names_in(text)
    found += broken
    found += [Found(Flaw.UNKNOWN, name) for name in sorted(names - slot.may)]
    # A brace in the wrong place is what hides the name: it is told alone.
    return found if broken else found + [Found(Flaw.MISSING, name) for name in sorted(slot.must - names)]


def cut(text: str) -> Text:
    """A text that has no flaws, ready to be said. What is no placeholder is taken as it is written."""
    before: list[tuple[str, str]] = []
    literal, at = "", 0
    for token in TOKEN.finditer(text):
        literal += text[at : token.start()]
        at = token.end()
        if token[1] is not None and NAME.fullmatch(token[1]):
            before.append((literal, token[1]))
            literal = ""
        else:
            literal += {"{{": "{", "}}": "}"}.get(token[0], token[0])
    return Text(tuple(before), literal + text[at:])


def _names_in(text: str) -> tuple[set[str], list[Found]]:
    names: set[str] = set()
    broken: list[Found] = []
    for token in TOKEN.finditer(text):
        if token[0] in ("{{", "}}"):
            continue
        if token[1] is None:
            broken.append(Found(Flaw.OPEN_BRACE if token[0] == "{" else Flaw.LOOSE_BRACE, token[0]))
        elif NAME.fullmatch(token[1]):
            names.add(token[1])
        else:
            broken.append(Found(Flaw.BAD_NAME, token[0]))
    return names, list(dict.fromkeys(broken))
