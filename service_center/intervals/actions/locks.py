"""Keeping a pass over the whole book and the recording of single facts from overtaking one another.

A pass works through the book in chunks of pieces and commits each. While it has a chunk, whoever records a fact of one
of its pieces waits, and the other way round; so neither stores dates worked out from facts that the other has just
outdated. Whoever changes the rules waits for those who store dates, and they for whoever does: dates by the old rules
are stored before the change is, or not at all. SQLite has one writer at a time and needs none of this.
"""

from collections.abc import Iterable

from django.db import connection

CHUNK = 50_000
# Any number that no other lock of this database has.
NAMESPACE = 20_11_82
# Beside the chunks, which count from nought.
RULES = -1


def share_chunks(piece_ids: Iterable[int]) -> None:
    """Until this transaction ends: no pass works on the chunks of these pieces, and no rule changes. One statement."""
    chunks = [RULES, *sorted({piece_id // CHUNK for piece_id in piece_ids})]
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_advisory_xact_lock_shared(%s, chunk) FROM unnest(%s::integer[]) AS chunk",
                [NAMESPACE, chunks],
            )


def take_chunk(chunk: int) -> None:
    """Until this transaction ends: nobody records facts of the pieces of this chunk. One statement."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [NAMESPACE, chunk])


def take_rules() -> None:
    """Until this transaction ends: nobody else changes the rules, or stores due dates of single pieces. One statement."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [NAMESPACE, RULES])
