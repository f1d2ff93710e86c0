"""The desk writes the house's table of usual time and price."""

from collections.abc import Mapping
from hashlib import sha256

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.rules import Complexity
from service_center.intake.rules import Asked, UsualTerm
from service_center.intake.terms.models import TermOfHouse
from service_center.intake.terms.queries import Table, table


class ChangedMeanwhile(Exception):  # noqa: N818  # a refusal, named as the desk would say it
    """Somebody else wrote to the table since it was shown; nothing was written."""


def version_of(terms: Table) -> str:
    """A short word that differs where two tables do."""
    return sha256(repr(sorted((*key, term.days, str(term.price)) for key, term in terms.items())).encode()).hexdigest()[
        :16
    ]


@transaction.atomic
def keep_terms(terms: Mapping[tuple[Asked, Complexity], UsualTerm], *, seen: str, by: Staff) -> int:
    """Write the lines that differ; `seen` is the version that was changed. Returns how many. Raises ChangedMeanwhile."""
    list(TermOfHouse.objects.select_for_update())
    before = table()
    if version_of(before) != seen:
        raise ChangedMeanwhile
    changed = {key: term for key, term in terms.items() if before[key] != term}
    for (asked, complexity), term in changed.items():
        TermOfHouse.objects.update_or_create(
            asked=asked.value, complexity=complexity.value, defaults={"days": term.days, "price": term.price}
        )
    if changed:
        leave_trail(
            by=by,
            deed="keep_terms",
            subject="house:terms",
            before=_record({key: before[key] for key in changed}),
            after=_record(changed),
        )
    return len(changed)


def _record(terms: Mapping[tuple[Asked, Complexity], UsualTerm]) -> dict[str, list[str | int | None]]:
    return {
        f"{asked}/{complexity}": [term.days, None if term.price is None else str(term.price)]
        for (asked, complexity), term in terms.items()
    }
