"""Pieces and owners that the book does not know yet."""
