"""Words of the benches' calendars as staff read them."""

from django.utils.translation import gettext_lazy as _

from service_center.book.rules import Complexity
from service_center.workshop.calendars.rules import AbsenceKind

SKILLS = {
    Complexity.SIMPLE: _("Simple"),
    Complexity.AUTOMATIC: _("Automatic"),
    Complexity.CHRONOGRAPH: _("Chronograph"),
    Complexity.COMPLICATED: _("Complicated"),
}
WEEKDAYS = [
    _("Monday"), _("Tuesday"), _("Wednesday"), _("Thursday"), _("Friday"), _("Saturday"), _("Sunday"),
]  # fmt: skip
SHORT_WEEKDAYS = [_("Mon"), _("Tue"), _("Wed"), _("Thu"), _("Fri"), _("Sat"), _("Sun")]
ABSENCES = {
    AbsenceKind.LEAVE: _("Leave"),
    AbsenceKind.TRAINING: _("Training"),
    AbsenceKind.OTHER_WORK: _("Other work for the house"),
    AbsenceKind.AWAY: _("Away"),
}
