"""Reading letters."""

from service_center.letters.queries.links import letter_for_token

__all__ = ["letter_for_token"]
