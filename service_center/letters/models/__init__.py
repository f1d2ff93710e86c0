"""The tables of letters, a file a subject."""

from service_center.letters.answered.models import AnswersCounted, AnswersOfDay
from service_center.letters.models.answers import Answer, ReachedOtherwise
from service_center.letters.models.grounds import LetterGround
from service_center.letters.models.letters import Letter, OwnerLink, Sender
from service_center.letters.models.reminders import CountedAhead, PlannedInvitation, Reminder
from service_center.letters.models.returned import DeliveryReport, ProviderCall, ReportBox, ReturnedMail
from service_center.letters.models.rounds import Round, RoundsHeld
from service_center.letters.models.stopped import AddressLifted, StoppedAddress
from service_center.letters.models.telling import Confirmation, MailedReceipt, OrderWord
from service_center.letters.models.wording import HouseText, KeptWording
from service_center.letters.rehearsing.models import Rehearsal

__all__ = [
    "AddressLifted",
    "Answer",
    "AnswersCounted",
    "AnswersOfDay",
    "Confirmation",
    "CountedAhead",
    "DeliveryReport",
    "HouseText",
    "KeptWording",
    "Letter",
    "LetterGround",
    "MailedReceipt",
    "OrderWord",
    "OwnerLink",
    "PlannedInvitation",
    "ProviderCall",
    "ReachedOtherwise",
    "Rehearsal",
    "Reminder",
    "ReportBox",
    "ReturnedMail",
    "Round",
    "RoundsHeld",
    "Sender",
    "StoppedAddress",
]
