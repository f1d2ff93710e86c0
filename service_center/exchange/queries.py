"""Reading what imports there were."""

from dataclasses import dataclass
from typing import Any

from service_center.access.models import Trail
from service_center.exchange.rules import FILES


@dataclass(frozen=True, slots=True)
class LastImport:
    """The trail of an import, and its counts by file in the order of outside.md."""

    trail: Trail
    files: list[dict[str, Any]]


def last_import() -> LastImport | None:
    """The latest import that changed the book. One statement, by index."""
    trail = Trail.objects.filter(subject="book:import").select_related("by").order_by("-at").first()
    if trail is None:
        return None
    counts = trail.after or {}
    return LastImport(trail, [{"name": file.name, **counts[file.stem]} for file in FILES if file.stem in counts])
