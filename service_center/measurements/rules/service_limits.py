"""From which amplitude on a movement cannot wait for its overhaul."""

from dataclasses import dataclass

from service_center.measurements.rules.positions import VERTICAL, Wind


@dataclass(frozen=True, slots=True)
class ServiceLimits:
    """Lowest amplitudes in degrees that a movement in service may show: at the limit is not below it."""

    full_wind: float
    vertical_24h: float

    def limit(self, wind: Wind, position: str) -> float | None:
        """The limit for one reading, or None where there is none: horizontal after 24 h, or the end of the reserve."""
        if wind is Wind.FULL:
            return self.full_wind
        if wind is Wind.AFTER_24H and position in VERTICAL:
            return self.vertical_24h
        return None


# Common practice (due-dates.md, evidence); a calibre's own technical sheet comes first.
COMMON_PRACTICE = ServiceLimits(full_wind=220, vertical_24h=190)
