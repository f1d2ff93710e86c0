"""What is still to come of parts that were ordered."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Line:
    """So many of a part (its key), expected on a day."""

    part: int
    quantity: int
    expected_on: date


class NotAnOrderError(ValueError):
    """What is wrong with an order of parts: `field` (parts, quantity or expected_on) and the part (its key), if one."""

    def __init__(self, field: str, part: int | None = None) -> None:
        self.field, self.part = field, part
        super().__init__(field if part is None else f"{field}: part {part}")


def check_lines(lines: Sequence[Line], ordered_on: date) -> None:
    """Raises NotAnOrderError for an order of nothing, a part that stands in it twice, none of a part, or one that was
    expected before it was ordered."""
    if not lines:
        raise NotAnOrderError("parts")
    seen = set[int]()
    for one in lines:
        if one.part in seen:
            raise NotAnOrderError("parts", one.part)
        if one.quantity <= 0:
            raise NotAnOrderError("quantity", one.part)
        if one.expected_on < ordered_on:
            raise NotAnOrderError("expected_on", one.part)
        seen.add(one.part)


def still_to_come(ordered: int, delivered: int) -> int:
    """Of so many ordered; nothing where the supplier sent more."""
    return max(0, ordered - delivered)
