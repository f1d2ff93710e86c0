"""Timing as pure rules: positions, readings, the figures of a sheet. Nothing here knows a database or a clock."""

from service_center.measurements.rules.positions import (
    HORIZONTAL,
    POSITIONS,
    VERTICAL,
    Wind,
    crown_angle,
    crown_direction,
    position_of,
)
from service_center.measurements.rules.readings import Problem, Reading, impossible, unlikely
from service_center.measurements.rules.sheet import Extreme, SheetFigures, WindFigures, figures_of

WINDS = tuple(wind.value for wind in Wind)

__all__ = [
    "HORIZONTAL",
    "POSITIONS",
    "VERTICAL",
    "WINDS",
    "Extreme",
    "Problem",
    "Reading",
    "SheetFigures",
    "Wind",
    "WindFigures",
    "crown_angle",
    "crown_direction",
    "figures_of",
    "impossible",
    "position_of",
    "unlikely",
]
