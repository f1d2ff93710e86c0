"""A signature on glass as its points: checked before it is drawn, and never taken over as a picture.

A point lies in a box of 1,000 by 300; a stroke is the points of one touch. (design/reliability.md, B4, uploads.)
"""

import json
from itertools import pairwise

WIDTH, HEIGHT = 1000, 300
MOST_STROKES, MOST_POINTS = 200, 6000
# A dot or a dash is a finger that slipped: a name is written over at least this way.
LEAST_WAY = 120.0

Stroke = tuple[tuple[int, int], ...]


class NoSignature(ValueError):  # noqa: N818  # a refusal, named as the counter would say it
    """What was sent is no signature."""


def strokes_of(text: str) -> tuple[Stroke, ...]:
    """The strokes in a JSON text; none for an empty one. Raises NoSignature."""
    if not text.strip():
        return ()
    try:
        sent = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise NoSignature("no list of points") from error
    if not isinstance(sent, list) or len(sent) > MOST_STROKES:
        raise NoSignature("no list of points, or too many strokes")
    strokes = tuple(_stroke(one) for one in sent)
    if sum(map(len, strokes)) > MOST_POINTS:
        raise NoSignature("too many points")
    return tuple(one for one in strokes if one)


def _stroke(sent: object) -> Stroke:
    if not isinstance(sent, list) or len(sent) > MOST_POINTS:
        raise NoSignature("a stroke is a list of points")
    return tuple(_point(one) for one in sent)


def _point(sent: object) -> tuple[int, int]:
    match sent:
        case [int() as x, int() as y] if 0 <= x <= WIDTH and 0 <= y <= HEIGHT:
            return int(x), int(y)
    raise NoSignature("a point is two whole numbers inside the box")


def way_of(strokes: tuple[Stroke, ...]) -> float:
    """How far the finger went, in the box's units."""
    return sum(
        ((right[0] - left[0]) ** 2 + (right[1] - left[1]) ** 2) ** 0.5
        for stroke in strokes
        for left, right in pairwise(stroke)
    )
