"""Starting the solver in a process of its own: what it loads and holds ends with it, and so does whatever it trips over.

Neither the web's process nor the worker's ever loads it (libraries.md: inputs can end a solver's process).
"""

import logging
import os
import subprocess
import sys

from django.conf import settings

from service_center.planning.week_plan.models import WeekPlan

logger = logging.getLogger(__name__)

PATIENCE_SECONDS = 300


def plan_waiting_apart() -> None:
    """Run `plan_week --waiting` where a week waits, until it ends. One statement where none does."""
    if not WeekPlan.objects.filter(wanted=True).exists():
        return
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "plan_week", "--waiting"]
    try:
        ended = subprocess.run(  # noqa: S603  # our own command, with no word of anybody's in it
            command, check=False, timeout=PATIENCE_SECONDS, env={**os.environ}, stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        logger.exception("Planning a week took longer than %s seconds; it is tried again", PATIENCE_SECONDS)
        return
    if ended.returncode:
        logger.error("Planning a week ended with %s; it is tried again", ended.returncode)
