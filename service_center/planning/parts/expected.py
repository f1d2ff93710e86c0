"""Orders to come that no levelling plans: tightness checks by their letters, the rest as often as they came."""

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.db.models import Count, Min

from service_center.book.rules import EntryKind, Place, ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.queries.coming import not_absorbed, not_invited, room_to_work
from service_center.letters.rules.steps import HOUSE_DAYS
from service_center.letters.rules.words import Step
from service_center.planning.queries.answers import awaited
from service_center.planning.queries.cohorts import SKILL, Horizon
from service_center.planning.queries.proposing import arriving
from service_center.planning.rules.arrivals import COME_AT_ALL, Numbers, Sort, common_shares
from service_center.planning.rules.curves import LetterCurve
from service_center.planning.rules.parts_needed import LOOKS_BACK_WEEKS, a_week, checks_by_week
from service_center.planning.rules.weeks import monday_at, monday_of, week_at
from service_center.workshop.models import WorkOrder

CHECK_INVITATION: Sort = (ServiceKind.TIGHTNESS, Step.INVITATION)
# Of these no letter is written: they come as often as they came.
WITHOUT_LETTERS = (EntryKind.REPAIR, EntryKind.BATTERY, EntryKind.STRAP)
# The weeks that a page shows, and one more, since a count is a day old at times.
WEEKS = 53


def checks_ahead(as_of: date, curves: Collection[LetterCurve]) -> dict[str, list[float]]:
    """Tightness checks that letters out, and invitations to come, are expected to bring: by skill and week.

    `curves` as the house last learnt them; common practice where it has not yet. Two statements over due dates.
    """
    horizon = Horizon(as_of, monday_of(as_of), WEEKS)
    learnt = _learnt(curves)
    with room_to_work():
        out = awaited(as_of, [ServiceKind.TIGHTNESS])
        invitations = _to_invite(horizon)
    skills = {one.skill for one in out} | set(invitations)
    by_letters = arriving(
        horizon, out, {sort: dict.fromkeys(skills, one) for sort, one in learnt.items()}, sorted(skills)
    )
    return {
        skill: checks_by_week(
            by_letters[ServiceKind.TIGHTNESS][skill], invitations.get(skill, ()), learnt[CHECK_INVITATION]
        )
        for skill in skills
    }


def _learnt(curves: Collection[LetterCurve]) -> dict[Sort, Numbers]:
    kept = {(one.kind, one.step): np.diff(one.learnt, prepend=0.0) for one in curves}
    return {sort: kept.get((sort[0].value, sort[1].value), common_shares(sort)) for sort in COME_AT_ALL}


def _to_invite(horizon: Horizon) -> dict[str, list[int]]:
    """Checks that have no letter yet, by skill and the week of their invitation. One statement over due dates."""
    due = DueDate.objects.filter(
        kind=ServiceKind.TIGHTNESS, starts_on__isnull=False, held="", piece__place=Place.OWNER,
        piece__owner__letters=True, opens_on__lt=monday_at(horizon.weeks, horizon.first),
    )  # fmt: skip
    rows = not_absorbed(not_invited(due), horizon.as_of, HOUSE_DAYS)
    found: dict[str, list[int]] = defaultdict(lambda: [0] * horizon.weeks)
    for skill, opens_on, owed_since, pieces in (
        rows.order_by().values_list(SKILL, "opens_on", "owed_since").annotate(n=Count("pk")).iterator(chunk_size=10_000)
    ):
        week = max(0, week_at(min(opens_on, owed_since or opens_on), horizon.first))
        if skill and week < horizon.weeks:
            found[skill][week] += pieces
    return found


@dataclass(frozen=True, slots=True)
class Lately:
    """Orders of the last year by kind and model, and the day of the house's first order of all."""

    orders: Mapping[tuple[str, int | None], int]
    since: date | None

    def a_week(self, kind: EntryKind, models: Collection[int] | None, as_of: date) -> float:
        """Orders of a kind that come in a week, of some models or (None) of all."""
        number = sum(
            orders for (one, model), orders in self.orders.items()
            if one == kind and (models is None or model in models)
        )  # fmt: skip
        return a_week(number, self.since, as_of)


def orders_lately(as_of: date) -> Lately:
    """Two statements over orders."""
    recent = WorkOrder.objects.filter(
        opened_on__gt=as_of - timedelta(weeks=LOOKS_BACK_WEEKS), opened_on__lte=as_of,
        kind__in=[kind.value for kind in WITHOUT_LETTERS],
    )  # fmt: skip
    rows = recent.order_by().values_list("kind", "piece__model").annotate(n=Count("pk"))
    counted = Counter({(kind, model): number for kind, model, number in rows})
    return Lately(counted, WorkOrder.objects.aggregate(first=Min("opened_on"))["first"])
