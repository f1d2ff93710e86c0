"""What was worked out of the coming weeks, and what is being worked out."""

from dataclasses import dataclass
from datetime import datetime

from service_center.access.models import Trail
from service_center.planning.models import Reckoning
from service_center.planning.rules.picture import Picture
from service_center.planning.rules.words import Outcome, ReckoningSort
from service_center.workshop.calendars.actions.standing_still import SUBJECT as WORKSHOP
from service_center.workshop.calendars.models import Watchmaker

# How far ahead the desk looks until it asks for more.
USUAL_WEEKS = 52
WHAT_IFS_SHOWN = 12


@dataclass(frozen=True, slots=True)
class Shown:
    """The latest picture of so many weeks and when it was worked out; what is under way; and why the last try failed.

    `picture` None: there is none yet. `failed`: a later reckoning that came to nothing.
    """

    weeks: int
    picture: Picture | None
    reckoning: Reckoning | None
    under_way: Reckoning | None
    failed: Reckoning | None


def latest_picture(weeks: int) -> Shown:
    """What a page shows of so many weeks. Three statements."""
    of_weeks = Reckoning.objects.filter(sort=ReckoningSort.PICTURE, weeks=weeks).defer("problem").order_by("-pk")
    done = of_weeks.filter(outcome=Outcome.DONE).first()
    last = of_weeks.exclude(finished_at=None).defer("problem", "picture").first()
    return Shown(
        weeks=weeks,
        picture=Picture.from_json(done.picture) if done and done.picture else None,
        reckoning=done,
        under_way=of_weeks.filter(finished_at=None).first(),
        failed=last if last and (done is None or last.pk > done.pk) else None,
    )


def calendars_changed_since(at: datetime) -> bool:
    """Whether watchmakers' weeks, absences, closures or holidays changed after a moment. Two statements, by index."""
    benches = [f"watchmaker:{pk}" for pk in Watchmaker.objects.values_list("pk", flat=True)]
    return Trail.objects.filter(subject__in=[WORKSHOP, *benches], at__gt=at).exists()


def what_ifs() -> list[Reckoning]:
    """The latest what-ifs. One statement."""
    asked = Reckoning.objects.filter(sort=ReckoningSort.WHAT_IF).select_related("asked_by")
    return list(asked.defer("problem", "picture").order_by("-pk")[:WHAT_IFS_SHOWN])
