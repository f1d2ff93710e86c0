"""A house's backup: made, tried, and brought back."""

from service_center.keeping.actions.backing_up import BackedUp, back_up
from service_center.keeping.actions.replaying import Journals, JournalsReplayed, of_this_machine, replay_journals
from service_center.keeping.actions.restoring import NotEmptyError, Restored, restore
from service_center.keeping.actions.verifying import UnusableError, Verified, verify

__all__ = [
    "BackedUp",
    "Journals",
    "JournalsReplayed",
    "NotEmptyError",
    "Restored",
    "UnusableError",
    "Verified",
    "back_up",
    "of_this_machine",
    "replay_journals",
    "restore",
    "verify",
]
