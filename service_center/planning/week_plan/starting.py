"""Starting the solver in a process of its own: what it loads and holds ends with it, and so does whatever it trips over.

Neither the web's process nor the worker's ever loads it (libraries.md: inputs can end a solver's process).
"""

import logging
import subprocess
import sys
import time

from celery.worker import state
from django.conf import settings

from service_center.planning.week_plan.models import WeekPlan

logger = logging.getLogger(__name__)

PATIENCE_SECONDS = 300
LOOKS_EVERY = 0.2


def plan_waiting_apart() -> None:
    """Run `plan_week --waiting` where a week waits, until it ends or the worker is told to. One statement where none does."""
    if not WeekPlan.objects.filter(wanted=True).exists():
        return
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "plan_week", "--waiting"]
    planner = subprocess.Popen(  # noqa: S603  # our own command, with no word of anybody's in it
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL
    )
    if not _ended(planner):
        # What it had begun is free again for whoever looks next.
        WeekPlan.objects.filter(wanted=True).update(begun_at=None)
        logger.warning("Planning a week was ended before it was done; it is tried again")
    elif planner.returncode:
        logger.error("Planning a week ended with %s; it is tried again", planner.returncode)


def _ended(planner: "subprocess.Popen[bytes]") -> bool:
    """Wait for it. False where it had to be ended: the worker stops, or it took too long."""
    until = time.monotonic() + PATIENCE_SECONDS
    while planner.poll() is None:
        if state.should_stop is not None or time.monotonic() > until:
            planner.terminate()
            planner.wait()
            return False
        time.sleep(LOOKS_EVERY)
    return True
