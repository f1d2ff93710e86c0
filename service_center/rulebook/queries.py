"""Which of the foreseen due dates an invitation can come of, and which letters a change of rules may end."""

from datetime import date

from django.db.models import Exists, OuterRef, Q, Value
from django.db.models.functions import Coalesce, Lower

from service_center.book.models import Piece
from service_center.intervals.models import DueDate
from service_center.letters.actions.ending import NOT_GONE_OUT
from service_center.letters.models import Reminder, StoppedAddress
from service_center.letters.rules.words import Step


def may_be_invited() -> Q:
    """Rows of ForeseenDue: nobody holds the piece, its owner is within reach, and its interval is not yet invited.

    That a test travels with the overhaul's letter, and which reminders share one letter, the rounds decide later.
    """
    invited = Reminder.objects.filter(
        # As rounds see it: a test that became owed after its interval's own invitation is invited anew.
        Q(starts_on=OuterRef("owed_since"))
        | Q(starts_on=OuterRef("starts_on"))
        & Q(letter__planned_on__gte=Coalesce(OuterRef("owed_since"), Value(date.min))),
        piece=OuterRef("piece"),
        kind=OuterRef("kind"),
        step=Step.INVITATION,
        ended_on=None,
    )
    stopped = StoppedAddress.objects.filter(email=Lower(OuterRef("piece__owner__email")))
    within_reach = Q(piece__owner__letters=True) & ~Q(piece__owner__email="") & ~Exists(stopped)
    return Q(held="") & within_reach & ~Exists(invited)


def pieces_to_look_at() -> list[Piece]:
    """Pieces with a reminder that has not gone out and that the due dates do not plainly bear out. One statement.

    Their kind no longer applies, counts from another day, or opens later than the day of the letter; which of these
    end, `end_reminders` says.
    """
    borne_out = DueDate.objects.filter(
        Q(opens_on=None) | Q(opens_on__lte=OuterRef("letter__planned_on")),
        piece=OuterRef("piece"),
        kind=OuterRef("kind"),
        starts_on=OuterRef("starts_on"),
        held="",
    )
    waiting = Reminder.objects.filter(~Exists(borne_out), ended_on=None, letter__state__in=NOT_GONE_OUT)
    return list(Piece.objects.filter(pk__in=waiting.values("piece")).order_by("pk"))
