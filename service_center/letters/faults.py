"""Points at which a test may make the process fail, to prove that nothing is lost or sent twice (reliability.md, B5).

Off unless FAULTS is set, as "point:deed[:nth]": `FAULTS=after_dot:exit:3` ends the process, without a word to anyone,
the third time it passes `after_dot`. Deeds: `exit` (as kill -9 would), `stop` (as SIGSTOP: until somebody says
SIGCONT), `raise`, `sleep=SECONDS`. Several by commas.
"""

import os
import signal
import threading
import time
from dataclasses import dataclass


class InjectedFault(RuntimeError):  # noqa: N818  # it is a fault
    """Raised where FAULTS asked for it."""


@dataclass(slots=True)
class _Planned:
    deed: str
    nth: int
    passed: int = 0


def _plan(text: str) -> dict[str, _Planned]:
    plan = {}
    for part in filter(None, text.split(",")):
        point, deed, *nth = part.split(":")
        plan[point] = _Planned(deed, int(nth[0]) if nth else 1)
    return plan


_planned = _plan(os.environ.get("FAULTS", ""))
_lock = threading.Lock()


def plan(text: str) -> None:
    """Replace what is planned; "" for nothing."""
    _planned.clear()
    _planned.update(_plan(text))


def fault(point: str) -> None:
    """Do what was planned for this point; nothing, in production."""
    planned = _planned.get(point)
    if planned is None:
        return
    with _lock:
        planned.passed += 1
        if planned.passed != planned.nth:
            return
    if planned.deed == "exit":
        os._exit(9)
    if planned.deed == "stop":
        os.kill(os.getpid(), signal.SIGSTOP)
        return
    if planned.deed == "raise":
        raise InjectedFault(point)
    time.sleep(float(planned.deed.removeprefix("sleep=")))
