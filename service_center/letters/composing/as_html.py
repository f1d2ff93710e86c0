"""Letters as HTML for mail programs old and new: tables, styles on every element, nothing fetched from outside.

The page is inlined once a process and cut at its holes, `[[name]]`, and at its regions, `<!--each name-->` to
`<!--end-->`, which stand as often as there is something to put in. A letter is then a matter of joining strings.
"""

import re
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from html import escape
from typing import Any

import css_inline
from django.template.loader import render_to_string

from service_center.letters.rules.layout import END_OF_ISOLATE, ISOLATE

_inliner = css_inline.CSSInliner(keep_style_tags=False, keep_at_rules=True, load_remote_stylesheets=False)
MARK = re.compile(r"\[\[(?P<hole>\w+)\]\]|<!--each (?P<each>\w+)-->|(?P<end><!--end-->)")

# The frame is that of every mail of the house, and takes its values as any page does: here they are holes.
FRAME = {"language": "[[language]]", "subject": "[[subject]]", "house_name": "[[house]]"}

# What stands there: words, the name of a hole, or a region with its own parts.
Literal = tuple[str, None, None]
Part = tuple[str, str | None, "tuple[Part, ...] | None"]


def filled(template: str, values: Mapping[str, Any]) -> str:
    """The page of a template. A hole takes HTML that is safe already; a region takes a list of such values."""
    out: list[str] = []
    _fill(_skeleton(template), values, out)
    return "".join(out)


@lru_cache(maxsize=4096)
def in_html(text: str) -> str:
    """Words as HTML: escaped, their lines kept, a name of another direction set apart.

    Most sentences of a letter are those of the letter before.
    """
    safe = escape(text)
    if ISOLATE in safe:
        safe = safe.replace(ISOLATE, '<bdi dir="auto">').replace(END_OF_ISOLATE, "</bdi>")
    return safe.replace("\n", "<br>") if "\n" in safe else safe


def in_title(text: str) -> str:
    """Words as the title of a page, where no element may stand: a name of another direction is set apart by its marks."""
    return escape(text)


def paragraphs(text: str) -> list[dict[str, str]]:
    """The paragraphs of a text: blank lines part them."""
    if "\n\n" not in text:
        return [{"paragraph": in_html(text)}]
    return [{"paragraph": in_html(one)} for one in re.split(r"\n{2,}", text) if one]


@cache
def _skeleton(template: str) -> tuple[Part, ...]:
    html = _inliner.inline(render_to_string(template, FRAME))
    parts, rest = _cut(html, 0)
    if rest != len(html):
        raise ValueError(f"{template}: a region ends that never began")
    return parts


def _cut(html: str, at: int) -> tuple[tuple[Part, ...], int]:
    parts: list[Part] = []
    while mark := MARK.search(html, at):
        parts.append((html[at : mark.start()], mark["hole"], None))
        at = mark.end()
        if mark["end"]:
            return tuple(parts), at
        if mark["each"]:
            inner, at = _cut(html, at)
            parts.append(("", mark["each"], inner))
    parts.append((html[at:], None, None))
    return tuple(parts), len(html)


def _fill(parts: Sequence[Part], values: Mapping[str, Any], out: list[str]) -> None:
    for literal, name, inner in parts:
        out.append(literal)
        if name is None:
            continue
        if inner is None:
            out.append(values[name])
        else:
            for one in values[name]:
                _fill(inner, one, out)
