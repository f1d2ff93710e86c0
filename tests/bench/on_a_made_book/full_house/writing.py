"""What every part of the house is written with: the day, the dice, and rows by the thousand."""

import random
from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from uuid import UUID

from django.db import models

AS_OF = date(2026, 7, 1)
BATCH = 5_000
chance = random.Random(11)


def at(day: date, hour: int = 10) -> datetime:
    return datetime.combine(day, time(hour), UTC)


def key() -> UUID:
    return UUID(int=chance.getrandbits(128), version=4)


def write(rows: Iterable[models.Model]) -> None:
    """By the thousand, without holding them all."""
    chunk: list[models.Model] = []
    for row in rows:
        chunk.append(row)
        if len(chunk) == BATCH:
            type(row)._default_manager.bulk_create(chunk)
            chunk = []
    if chunk:
        type(chunk[0])._default_manager.bulk_create(chunk)
