"""A refusal that says which field it is about."""

from datetime import date

from django.utils.translation import gettext as _

from service_center.workshop.calendars.rules import Days


class NotKept(Exception):  # noqa: N818  # a refusal, named for what happened
    """Nothing was written. `field` is the form's, `why` a sentence in the language of whoever asked."""

    def __init__(self, field: str, why: str) -> None:
        self.field, self.why = field, why
        super().__init__(f"{field}: {why}")


def said(day: date) -> str:
    """A day as the desk's pages write it."""
    return f"{day:%-d %b %Y}"


def must_be_in_order(first: date, last: date) -> Days:
    """The days from a day to a day. Raises NotKept where the last comes before the first."""
    if last < first:
        raise NotKept("last_day", _("The last day comes before the first."))
    return Days(first, last)


def told(days: Days) -> dict[str, object]:
    """Days as the trail keeps them."""
    return {"first": days.first.isoformat(), "last": days.last.isoformat()}
