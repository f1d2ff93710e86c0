"""Backups that something happened to: bytes that changed, and ends that are missing."""

import random
from collections.abc import Iterator
from pathlib import Path


def damaged(whole: bytes, chance: random.Random, *, flips: int, cuts: int) -> Iterator[tuple[str, bytes]]:
    """So many copies with one changed byte at a random place, and so many that are cut off at one: what was done."""
    for _number in range(flips):
        place, change = chance.randrange(len(whole)), chance.randrange(1, 256)
        yield (
            f"byte {place} of {len(whole)}",
            whole[:place] + bytes([whole[place] ^ change]) + whole[place + 1 :],
        )
    for _number in range(cuts):
        place = chance.randrange(len(whole))
        yield f"cut off at {place} of {len(whole)}", whole[:place]


def write(folder: Path, content: bytes) -> Path:
    """One of them as a file."""
    file = folder / "damaged.zip"
    file.write_bytes(content)
    return file
