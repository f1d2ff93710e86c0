"""What planning does: levels, accepts, works out what pages show, and keeps what it forecast."""

from service_center.planning.actions.forecasting import count_arrivals, keep_forecast, keep_said
from service_center.planning.actions.levelling import (
    NotAsSeen,
    Proposed,
    accept_levelling,
    keep_overhaul_hours,
    look_at_levelling,
    propose_levelling,
)
from service_center.planning.actions.reckoning import ask_for_picture, ask_to_accept, ask_what_if, work_out
from service_center.planning.actions.ticking import tick

__all__ = [
    "NotAsSeen",
    "Proposed",
    "accept_levelling",
    "ask_for_picture",
    "ask_to_accept",
    "ask_what_if",
    "count_arrivals",
    "keep_forecast",
    "keep_overhaul_hours",
    "keep_said",
    "look_at_levelling",
    "propose_levelling",
    "tick",
    "work_out",
]
