"""A process in which everything is loaded, and which forks a child for each deed it is ordered: senders by the hundred.

One order a line on stdin, as JSON; the child's id on stdout. A child is a process like any other: it may be killed,
stopped and continued. It ends without a word; what it has to say it writes to the file that its order names.
"""

import ctypes
import json
import os
import resource
import signal
import sys
import traceback
from pathlib import Path
from typing import Any

import django

PR_SET_PDEATHSIG = 1


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
    django.setup()
    from tests.faults import deeds  # noqa: PLC0415  # needs the line before it

    deeds.warm_up()
    _end_with_parent()
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the kernel buries the dead
    for line in iter(sys.stdin.readline, ""):
        order = json.loads(line)
        child = os.fork()
        if child == 0:
            _do(order, deeds)
        print(child, flush=True)


def _do(order: dict[str, Any], deeds: Any) -> None:
    """The life of a child."""
    code = 1
    try:
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        _end_with_parent()
        log = os.open(order["log"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        for stream in (1, 2):
            os.dup2(log, stream)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        if order["room"] is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (order["room"], resource.RLIM_INFINITY))
        told = deeds.do(order)
        file = Path(order["told"])
        file.with_suffix(".part").write_text(json.dumps(told))
        file.with_suffix(".part").rename(file)
        code = 0
    except BaseException:  # noqa: BLE001  # the log shows it
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def _end_with_parent() -> None:
    ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)


if __name__ == "__main__":
    main()
