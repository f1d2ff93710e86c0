"""Past promises against what came of them."""

from datetime import date

from django.db.models import Count, F, Q
from django.db.models.functions import TruncMonth

from service_center.book.rules import EntryKind
from service_center.planning.rules.promising.scoring import Score
from service_center.workshop.models import WorkOrder

Scores = dict[tuple[date, EntryKind], Score]


def promises_kept(first_month: date, as_of: date) -> Scores:
    """Promises from a month on whose day was over on `as_of`, by the month of that day and kind of order. One statement.

    An order that is not ready yet has broken its promise. The quote is scored among those whose own day is over too.
    """
    quoted = Q(quoted_on__lt=as_of)
    rows = (
        WorkOrder.objects.filter(promised_on__gte=first_month, promised_on__lt=as_of)
        .annotate(month=TruncMonth("promised_on"))
        .values("month", "kind")
        .annotate(
            promised=Count("pk"),
            kept=Count("pk", filter=Q(ready_on__lte=F("promised_on"))),
            quoted=Count("pk", filter=quoted),
            within=Count("pk", filter=quoted & Q(ready_on__lte=F("quoted_on"))),
        )
        .order_by("-month", "kind")
    )
    return {
        (row["month"], EntryKind(row["kind"])): Score(row["promised"], row["kept"], row["quoted"], row["within"])
        for row in rows
    }
