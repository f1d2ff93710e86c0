"""Where the lines of a picture stand: round values that hold everything drawn. Every chart of the house asks here."""

import math

FINEST = 1e-6  # lines nearer than this, or this share of what is drawn, are the noise of floating point


def round_levels(low: float, high: float, most: int, *, finest: float = 0.0) -> list[float]:
    """Round values from at or below `low` to at or above `high`, at most `most` steps apart from end to end.

    Steps are the least of 1, 2 or 5 times a power of ten that will do, and no less than `finest` (1 for what is
    counted). At least two values, lowest first. ValueError where `high` lies below `low`, or `most` below 2.
    """
    if not low <= high or most < 2:
        raise ValueError(f"no axis from {low} to {high} in {most} steps")
    rough = max((high - low) / most, finest, FINEST * max(1.0, abs(low), abs(high)))
    power = 10.0 ** math.floor(math.log10(rough))
    for times in (1, 2, 5, 10, 20, 50):
        step = times * power
        first, last = math.floor(low / step), max(math.ceil(high / step), math.floor(low / step) + 1)
        if step >= finest and last - first <= most:
            return [round(number * step, 9) for number in range(first, last + 1)]
    raise AssertionError("twenty times the step is always wide enough")
