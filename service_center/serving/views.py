"""Probes for the machine that watches the service. They say nothing of anybody."""

from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe

from service_center.serving import queries

_up_to_date = False  # once true it stays true: code and database of a running process grow no new migrations


@require_safe
def live(request: HttpRequest) -> JsonResponse:
    """The process answers. 200, {"live": true}."""
    return JsonResponse({"live": True})


@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """The database answers and lacks no migration: 200, {"ready": true}; otherwise 503 and the reason."""
    global _up_to_date  # noqa: PLW0603
    if not queries.database_answers():
        return JsonResponse({"ready": False, "reason": "The database does not answer."}, status=503)
    if not _up_to_date:
        pending = queries.pending_migrations()
        if pending:
            return JsonResponse({"ready": False, "reason": f"Migrations pending: {len(pending)}."}, status=503)
        _up_to_date = True
    return JsonResponse({"ready": True})
