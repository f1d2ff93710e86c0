"""A piece with a letter about it, on the same fixed day as the pages of pieces."""

from tests.pieces.conftest import _the_day, letter_about, piece

__all__ = ["_the_day", "letter_about", "piece"]
