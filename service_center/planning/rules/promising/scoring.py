"""How promises were kept, once their day is over."""

from dataclasses import dataclass
from math import sqrt


@dataclass(frozen=True, slots=True)
class Score:
    """Promises whose day is over: how many, and of how many the order was ready on the day or before.

    `quoted`, `within`: of those whose day was worked out from the benches' load, how many, and how many were ready by
    the day on which nine in ten should be.
    """

    promised: int = 0
    kept: int = 0
    quoted: int = 0
    within: int = 0

    def __add__(self, other: "Score") -> "Score":
        return Score(
            self.promised + other.promised,
            self.kept + other.kept,
            self.quoted + other.quoted,
            self.within + other.within,
        )

    @property
    def share_kept(self) -> float | None:
        """The share that was ready by its promise; None of none."""
        return self.kept / self.promised if self.promised else None

    @property
    def share_within(self) -> float | None:
        """The share that was ready by its ninth decile, which should be about 0.9; None of none."""
        return self.within / self.quoted if self.quoted else None


def likely_share(good: int, of: int) -> tuple[float, float]:
    """Between which shares the true one lies, 19 times in 20, where so many of so many were good.

    Wilson's score interval (1927), "Probable inference, the law of succession, and statistical inference". Raises
    ValueError for counts that cannot be.
    """
    if not 0 <= good <= of or of == 0:
        raise ValueError(f"{good} of {of} is no share")
    z = 1.959963984540054
    share, weight = good / of, z * z / of
    middle = (share + weight / 2) / (1 + weight)
    half = z * sqrt(share * (1 - share) / of + weight / (4 * of)) / (1 + weight)
    return max(0.0, middle - half), min(1.0, middle + half)
