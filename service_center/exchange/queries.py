"""Reading what imports there were."""

from service_center.access.models import Trail


def last_import() -> Trail | None:
    """The latest import that changed the book, with its counts. One statement, by index."""
    return Trail.objects.filter(subject="book:import").select_related("by").order_by("-at").first()
