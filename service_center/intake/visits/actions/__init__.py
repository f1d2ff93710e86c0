"""What owners and boutiques do about visits, and when a boutique receives."""

from service_center.intake.visits.actions.booking import (
    AlreadyComing,
    JustTaken,
    NoLongerOpen,
    NotBooked,
    NotOffered,
    Wish,
    book,
    cancel,
    leave_at_home,
    mark,
    move,
)
from service_center.intake.visits.actions.opening import (
    ChangedMeanwhile,
    UnknownRegionError,
    close_days,
    keep_hours,
    open_on_holiday,
    reopen,
    set_region,
)

__all__ = [
    "AlreadyComing",
    "ChangedMeanwhile",
    "JustTaken",
    "NoLongerOpen",
    "NotBooked",
    "NotOffered",
    "UnknownRegionError",
    "Wish",
    "book",
    "cancel",
    "close_days",
    "keep_hours",
    "leave_at_home",
    "mark",
    "move",
    "open_on_holiday",
    "reopen",
    "set_region",
]
