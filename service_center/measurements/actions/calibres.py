"""What the house asks of a calibre's sheets, set by the desk or the bench lead."""

from collections.abc import Mapping

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Calibre
from service_center.measurements import models
from service_center.measurements.queries import judging_of
from service_center.measurements.rules.limits import HOUSE_LIMITS, Judging, Range


@transaction.atomic
def set_judging(calibre: Calibre, judging: Judging, *, by: Staff | None) -> None:
    """Keep a calibre's limits, positions and crown. Limits equal to the house's need no row. The trail has both states."""
    locked = Calibre.objects.select_for_update().get(pk=calibre.pk)
    before = judging_of(locked)
    models.CalibreLimit.objects.filter(calibre=locked).delete()
    models.CalibreLimit.objects.bulk_create(
        models.CalibreLimit(calibre=locked, figure=figure, low=limits.low, high=limits.high)
        for figure, limits in judging.limits.items()
        if limits != HOUSE_LIMITS[figure]
    )
    models.CalibreJudging.objects.update_or_create(
        calibre=locked, defaults={"positions": " ".join(judging.positions), "crown_at": judging.crown_at}
    )
    leave_trail(
        by=by, deed="set_judging", subject=f"calibre:{locked.code}", before=_as_trail(before), after=_as_trail(judging)
    )


def _as_trail(judging: Judging) -> dict[str, object]:
    return {"limits": _plain(judging.limits), "positions": list(judging.positions), "crown_at": judging.crown_at}


def _plain(limits: Mapping[str, Range]) -> dict[str, list[str | None]]:
    return {
        figure: [None if end is None else f"{end.normalize():f}" for end in (one.low, one.high)]
        for figure, one in limits.items()
        if one != HOUSE_LIMITS[figure]
    }
