"""Reading what levelling needs off the book: a few statements over the whole book, never piece by piece."""

from service_center.planning.queries.proposing import Levelling, levelling

__all__ = ["Levelling", "levelling"]
