"""The site as a process of its own, as somebody starts it from a shell."""

import contextlib
import os
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

from tests.servers import free_port

PLACE = Path(__file__).resolve().parents[2]


class Site:
    """One started command, its output so far, and its end."""

    def __init__(self, process: "subprocess.Popen[str]", port: int) -> None:
        self.process, self.port, self.url = process, port, f"http://127.0.0.1:{port}"
        self.output = ""

    def ready(self, *, seconds: float = 60) -> None:
        """Wait until the site says that it is ready."""
        wait_until_ready(self, seconds=seconds)

    def press_ctrl_c(self) -> float:
        """What a terminal does: SIGINT to every process of it. Returns the seconds until all have ended."""
        begun = time.monotonic()
        os.killpg(self.process.pid, signal.SIGINT)
        return self._ended(begun)

    def terminate(self) -> float:
        """What a supervisor does: SIGTERM to the process it started. Returns the seconds until it has ended."""
        begun = time.monotonic()
        self.process.terminate()
        return self._ended(begun)

    def _ended(self, begun: float) -> float:
        self.output = self.process.communicate(timeout=60)[0]
        return time.monotonic() - begun

    def others(self) -> list[int]:
        """The ids of the living processes of this site, apart from the first."""
        found = []
        for folder in Path("/proc").glob("[0-9]*"):
            with contextlib.suppress(OSError):
                # The fields after the name in brackets: state, parent, group.
                state, _parent, group = (folder / "stat").read_text().rpartition(")")[2].split()[:3]
                if int(group) == self.process.pid and state != "Z" and int(folder.name) != self.process.pid:
                    found.append(int(folder.name))
        return found


def wait_until_ready(site: Site, *, seconds: float = 60) -> None:
    """Ask the probe until it says yes; the end of the process is the end of the patience."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if site.process.poll() is not None:
            site.output = site.process.communicate()[0] or ""
            raise AssertionError(f"ended with {site.process.returncode}: {site.output}")
        with (
            contextlib.suppress(urllib.error.URLError, ConnectionError, TimeoutError),
            urllib.request.urlopen(f"{site.url}/health/ready", timeout=2),
        ):
            return
        time.sleep(0.1)
    raise AssertionError("not ready in time")


@contextlib.contextmanager
def started(command: str, data: Path, *, port: int | None = None, **environment: str) -> Iterator[Site]:
    """`manage.py serve` or `demo` over a data folder, embedded unless the environment says otherwise."""
    inherited = {key: value for key, value in os.environ.items() if not key.endswith("_URL")}
    port = port or free_port()
    process = subprocess.Popen(
        [sys.executable, "manage.py", command, "--port", str(port)],
        cwd=PLACE, env=inherited | {"DATA_DIR": str(data)} | environment,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, start_new_session=True,
    )  # fmt: skip
    try:
        yield Site(process, port)
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        if process.stdout:
            process.stdout.close()
