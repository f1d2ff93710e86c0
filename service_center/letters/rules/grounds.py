"""Which ground may be written down on which day, after which other."""

from datetime import date

from service_center.letters.rules.words import Ground


def fault_of_ground(ground: Ground, on: date, *, today: date, latest: Ground | None, latest_on: date | None) -> str:
    """Why a ground cannot be written down, as "field: reason", or nothing.

    The latest row counts, so that none may be dated before it: a consent of years ago undoes no withdrawal of today.
    """
    if on > today:
        return "on: it lies in the future"
    if latest_on and on < latest_on:
        return "on: it lies before the latest ground"
    if ground is Ground.WITHDRAWN and latest is Ground.WITHDRAWN:
        return "ground: it is withdrawn already"
    return ""
