"""What came back by mail and by the provider is kept word for word for a time; what it was read as stays."""

from datetime import datetime, timedelta

from django.conf import settings

from service_center.access.erasing import door_open
from service_center.letters.models import ProviderCall, ReturnedMail

AT_ONCE = 1_000  # rows in one transaction: nobody waits for a house that begins to forget after years


def forget_returned(*, now: datetime) -> int:
    """Empty returned mails and read calls older than the house keeps them. Returns how many.

    A call that nobody could read yet is kept: it has no conclusion.
    """
    before = now - timedelta(days=settings.RETURNED_MAIL_DAYS)
    mails = ReturnedMail.objects.filter(came_at__lt=before).exclude(raw=b"")
    calls = ProviderCall.objects.filter(came_at__lt=before, read_at__isnull=False).exclude(body=b"")
    forgotten = 0
    while found := list(mails.order_by("pk").values_list("pk", flat=True)[:AT_ONCE]):
        with door_open():
            forgotten += ReturnedMail.objects.filter(pk__in=found).update(raw=b"")
    while found := list(calls.order_by("pk").values_list("pk", flat=True)[:AT_ONCE]):
        forgotten += ProviderCall.objects.filter(pk__in=found).update(body=b"")
    return forgotten
