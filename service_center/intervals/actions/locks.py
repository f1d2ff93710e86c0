"""Keeping a pass over the whole book and the recording of single facts from overtaking one another.

A pass works through the book in chunks of pieces and commits each. While it has a chunk, whoever records a fact of one
of its pieces waits, and the other way round; so neither stores dates worked out from facts that the other has just
outdated. SQLite has one writer at a time and needs none of this.
"""

from collections.abc import Iterable

from django.db import connection

CHUNK = 50_000
# Any number that no other lock of this database has.
NAMESPACE = 20_11_82


def share_chunks(piece_ids: Iterable[int]) -> None:
    """Until this transaction ends: no pass works on the chunks of these pieces. One statement."""
    chunks = sorted({piece_id // CHUNK for piece_id in piece_ids})
    if connection.vendor == "postgresql" and chunks:
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
