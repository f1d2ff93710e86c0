"""The columns of a whole maker's book, from a seed: plausible dates and deeds, nothing of anybody.

NumPy arrays a block of pieces at a time; the same seed and size give the same book.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from service_center.book.rules import Complexity, DoneBy, EntryKind, Status, Tightness, Use

CALIBRES = 40
MODELS = 200
BOUTIQUES = 12
ENTRIES_A_PIECE = 4
BLOCK = 50_000
UNKNOWN = np.datetime64("NaT")

Columns = dict[str, list[Any]]


@dataclass(frozen=True, slots=True)
class Block:
    """Columns of one block of pieces, by table; keys are those of the rows to be."""

    owners: Columns
    pieces: Columns
    history: Columns
    custody: Columns


def calibres() -> Columns:
    """Forty calibres, of every complexity in turn."""
    words = [word.value for word in Complexity]
    return {
        "id": list(range(1, CALIBRES + 1)),
        "code": [f"FH-{100 + n}" for n in range(CALIBRES)],
        "complexity": [words[n % len(words)] for n in range(CALIBRES)],
    }


def models() -> Columns:
    """Two hundred models, every eighth without a pressure rating."""
    return {
        "id": list(range(1, MODELS + 1)),
        "reference": [f"LB-{n:04d}" for n in range(MODELS)],
        "name": [f"Large book {n}" for n in range(MODELS)],
        "calibre_id": [1 + n % CALIBRES for n in range(MODELS)],
        "rated_bar": [None if n % 8 == 0 else 10 for n in range(MODELS)],
    }


def boutiques() -> Columns:
    """A dozen boutiques."""
    return {
        "id": list(range(1, BOUTIQUES + 1)),
        "code": [f"LB{n:02d}" for n in range(BOUTIQUES)],
        "name": [f"Large book {n}" for n in range(BOUTIQUES)],
    }


def blocks(pieces: int, until: date, seed: int) -> Iterator[Block]:
    """The book's blocks in order, with facts up to a day: one owner and four history entries a piece."""
    random = np.random.default_rng(seed)
    for first in range(1, pieces + 1, BLOCK):
        yield _block(first, min(BLOCK, pieces + 1 - first), until, random)


def _block(first: int, size: int, until: date, random: np.random.Generator) -> Block:
    keys = np.arange(first, first + size)
    last_day = np.datetime64(until)
    made = last_day - random.integers(30, 31 * 365, size)
    sold = np.minimum(made + random.exponential(400, size).astype(int), last_day)
    unknown = random.random(size)
    house = random.random(size) < 0.001
    pieces = {
        "id": keys.tolist(),
        "serial": [f"LB{key:08d}" for key in keys.tolist()],
        "model_id": random.integers(1, MODELS + 1, size).tolist(),
        "owner_id": keys.tolist(),
        "boutique_id": random.integers(1, BOUTIQUES + 1, size).tolist(),
        "made_on": _days(np.where(unknown < 0.05, UNKNOWN, made)),
        "sold_on": _days(np.where((unknown < 0.01) | (unknown > 0.97), UNKNOWN, sold)),
        "use": _pick(random, [Use.EVERYDAY.value, Use.IN_WATER.value, ""], [0.7, 0.12, 0.18], size),
        "status": _pick(random, [status.value for status in Status], [0.97, 0.015, 0.005, 0.01], size),
        "place": np.where(house, "workshop", "owner").tolist(),
    }
    owners = {
        "id": keys.tolist(),
        "code": [f"LBO{key:08d}" for key in keys.tolist()],
        "letters": (random.random(size) < 0.8).tolist(),
    }
    custody = {"piece_id": keys[house].tolist(), "place": ["workshop"] * int(house.sum())}
    return Block(owners, pieces, _history(first, sold, last_day, random), custody)


def _history(first: int, sold: Any, last_day: Any, random: np.random.Generator) -> Columns:
    size = len(sold) * ENTRIES_A_PIECE
    span = (last_day - sold).astype(int)[:, None]
    share = np.sort(random.random((len(sold), ENTRIES_A_PIECE)), axis=1)
    done = (sold[:, None] + (share * (span + 1)).astype(int)).reshape(-1)
    kinds = np.array([kind.value for kind in EntryKind])
    kind = kinds[random.choice(len(kinds), size, p=[0.32, 0.1, 0.4, 0.08, 0.1])]
    opened = np.isin(kind, ["overhaul", "repair", "battery"])
    luck = random.random(size)
    passed = np.isin(kind, ["overhaul", "tightness_check"]) & (luck < 0.9) | ((kind == "repair") & (luck < 0.6))
    failed = ~passed & (kind == "tightness_check")
    own = random.random(size) < 0.8
    key = np.arange((first - 1) * ENTRIES_A_PIECE + 1, (first - 1) * ENTRIES_A_PIECE + 1 + size)
    # Now and then the last entry of a piece corrects the one before it.
    corrects = (key % ENTRIES_A_PIECE == 0) & (random.random(size) < 0.004)
    result = np.where(passed, Tightness.PASSED, np.where(failed, Tightness.FAILED, Tightness.NOT_TESTED))
    return {
        "id": key.tolist(),
        "code": [f"LBE{one:09d}" for one in key.tolist()],
        "piece_id": np.repeat(np.arange(first, first + len(sold)), ENTRIES_A_PIECE).tolist(),
        "done_on": _days(done),
        "kind": kind.tolist(),
        "case_opened": opened.tolist(),
        "tightness": result.tolist(),
        "done_by": np.where(own, DoneBy.OWN, DoneBy.OUTSIDE).tolist(),
        "accepted": (own | (random.random(size) < 0.5)).tolist(),
        "voids_id": [one - 1 if it else None for one, it in zip(key.tolist(), corrects.tolist(), strict=True)],
    }


def _pick(random: np.random.Generator, words: list[str], shares: list[float], size: int) -> list[str]:
    picked: list[str] = np.array(words)[random.choice(len(words), size, p=shares)].tolist()
    return picked


def _days(days: Any) -> list[str | None]:
    return [None if day == "NaT" else day for day in np.datetime_as_string(days.astype("datetime64[D]")).tolist()]
