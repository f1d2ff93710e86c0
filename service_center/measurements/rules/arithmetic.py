"""Timing-machine arithmetic. Source of the forms and their check values: design/facts.md, 3.

Units: beats an hour (28,800 is 4 Hz: one oscillation is two beats), times in milliseconds, angles in degrees, rates in
seconds a day (plus gains). Every function raises ValueError for what cannot be, and says which value.
"""

from math import degrees, pi, radians, sin

SECONDS_A_DAY = 86_400.0


def beat_ms(beats_per_hour: float) -> float:
    """The nominal time between two beats, in milliseconds."""
    return 3_600_000.0 / _positive("beats an hour", beats_per_hour)


def rate_from_beat(mean_beat_ms: float, beats_per_hour: float) -> float:
    """Rate in s/d from the mean measured beat: 86400 (T0 - T) / T. A short beat gains.

    The linear form 86400 (T0 - T) / T0 is smaller by rate / 86400 of itself: 0.0006 s/d at 7 s/d. Average over an even
    number of beats, so that beat error cancels.
    """
    measured = _positive("the mean beat", mean_beat_ms)
    return SECONDS_A_DAY * (beat_ms(beats_per_hour) - measured) / measured


def beat_error_ms(tick_ms: float, tock_ms: float) -> float:
    """Half the difference of the two beats, in milliseconds. The other definition in use is twice as large."""
    return abs(_positive("the tick", tick_ms) - _positive("the tock", tock_ms)) / 2


def amplitude_from_lift(lift_time_ms: float, lift_angle_deg: float, beats_per_hour: float) -> float:
    """Amplitude in degrees from the time between the first and the last noise of a beat: A = lift / (2 sin(pi t / T)).

    The symmetric exact form: sinusoidal motion, lift angle shared evenly about the rest point. The small-angle form
    lies about 0.4 degrees below it, the one-sided form lift / sin(2 pi t / T) about 1.3 above (at 270 degrees).
    """
    oscillation = 2 * beat_ms(beats_per_hour)
    time = _positive("the lift time", lift_time_ms)
    if time >= oscillation / 2:
        raise ValueError(f"the lift time must be shorter than a beat ({oscillation / 2:.1f} ms), not {time}")
    return _positive("the lift angle", lift_angle_deg) / (2 * sin(pi * time / oscillation))


def amplitude_with_lift(amplitude_deg: float, *, set_to: float, right: float) -> float:
    """An amplitude read with a wrong lift angle, corrected: it is proportional to the angle. Rate does not depend on it."""
    return amplitude_deg * _positive("the right lift angle", right) / _positive("the lift angle set", set_to)


def rest_point_offset_deg(beat_error: float, amplitude_deg: float, beats_per_hour: float) -> float:
    """How far the rest point lies off the middle, in degrees: A sin(pi E / T), with E half the difference."""
    return degrees(radians(amplitude_deg) * sin(pi * beat_error / (2 * beat_ms(beats_per_hour))))


def _positive(name: str, value: float) -> float:
    if not 0 < value < float("inf"):
        raise ValueError(f"{name} must be more than 0, not {value}")
    return value
