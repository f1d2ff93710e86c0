"""What an owner does behind a letter's link, and what the desk does about what they ask."""

from service_center.owner_pages.actions.answering import answer, resume_letters, stop_letters
from service_center.owner_pages.actions.details import (
    ChangedMeanwhileError,
    Details,
    TooManyChangesError,
    confirm_email,
    correct_by_desk,
    correct_details,
    withdraw_email_change,
)
from service_center.owner_pages.actions.erasing import CannotEraseNowError, erase, erase_again, put_away
from service_center.owner_pages.actions.erasures_replayed import ErasedAgain, replay_erasures
from service_center.owner_pages.actions.notices import hold_notices, send_notices
from service_center.owner_pages.actions.requests import (
    AlreadyDecidedError,
    AskedOtherwiseError,
    RequestFullError,
    TooManyCopiesError,
    ask,
    decide,
    keep_name,
    note_copy,
)
from service_center.owner_pages.actions.the_owner import OwnerErasedError

__all__ = [
    "AlreadyDecidedError",
    "AskedOtherwiseError",
    "CannotEraseNowError",
    "ChangedMeanwhileError",
    "Details",
    "ErasedAgain",
    "OwnerErasedError",
    "RequestFullError",
    "TooManyChangesError",
    "TooManyCopiesError",
    "answer",
    "ask",
    "confirm_email",
    "correct_by_desk",
    "correct_details",
    "decide",
    "erase",
    "erase_again",
    "hold_notices",
    "keep_name",
    "note_copy",
    "put_away",
    "replay_erasures",
    "resume_letters",
    "send_notices",
    "stop_letters",
    "withdraw_email_change",
]
