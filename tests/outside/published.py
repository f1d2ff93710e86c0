"""Reads fixtures/published: check values with their sources (its README names them)."""

import csv
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "published"


def rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
