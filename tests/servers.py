"""Real PostgreSQL and Redis for the tests and the figures: started on free ports, in a folder of their own, and ended.

`python -m tests.servers test [pytest's arguments]` runs the suite on SQLite, then on PostgreSQL, then what walks
the site in Chromium or starts processes. `python -m tests.servers bench` runs tests/bench/*.py. `./run` calls both.

This file knows no Django: its settings must read the environment that is set here.
"""

import contextlib
import ctypes
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

PLACE = Path(__file__).resolve().parent.parent
NOTHING_COLLECTED = 5  # pytest's exit code
ALONE = "browser or servers"  # tests that start processes of their own run by themselves
PR_SET_PDEATHSIG = 1


class ServerMissing(Exception):  # noqa: N818  # a refusal, named for what was found
    """A program that the tests need is not on this machine."""


def main(arguments: Sequence[str]) -> int:
    """`test` or `bench`, and what follows goes on to pytest or to the figures."""
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, _end)
    what, *rest = arguments or ["test"]
    try:
        with contextlib.ExitStack() as stack:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="service-center-")))
            database_url = stack.enter_context(postgresql(folder / "postgresql"))
            redis_url = stack.enter_context(redis(folder / "redis"))
            folder.chmod(0o755)
            if what == "bench":
                return _bench(rest, folder, database_url, redis_url)
            return _test(rest, folder, database_url, redis_url)
    except ServerMissing as missing:
        print(missing, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130


def _test(arguments: list[str], folder: Path, database_url: str, redis_url: str) -> int:
    sqlite = {"EXPECT_DATABASE": "sqlite", "DATA_DIR": str(folder / "sqlite")}
    postgres = {"EXPECT_DATABASE": "postgresql", "DATABASE_URL": database_url, "DATA_DIR": str(folder / "files")}
    apart, together = ["-n", "2", "-m", f"not ({ALONE})"], ["-m", ALONE]
    runs = [
        ("on SQLite", sqlite, apart),
        ("on PostgreSQL", postgres, apart),
        ("with Chromium and processes, on PostgreSQL and Redis", postgres | {"BROKER_URL": redis_url}, together),
    ]
    codes = []
    for title, environment, options in runs:
        print(f"\n=== Tests {title} ===", file=sys.stderr, flush=True)
        codes.append(_run([sys.executable, "-m", "pytest", *options, *arguments], environment, redis_url))
    failures = [code for code in codes if code not in {0, NOTHING_COLLECTED}]
    if failures:
        return failures[0]
    # Asked for a part, some runs may find nothing in it; asked for everything, each must find something.
    empty = codes.count(NOTHING_COLLECTED)
    return NOTHING_COLLECTED if empty == len(codes) or (empty and not arguments) else 0


def _bench(arguments: list[str], folder: Path, database_url: str, redis_url: str) -> int:
    names = arguments or sorted(file.stem for file in (PLACE / "tests" / "bench").glob("[a-z]*.py"))
    code = 0
    for name in names:
        for title, environment in (("SQLite", {}), ("PostgreSQL", {"DATABASE_URL": database_url})):
            print(f"\n=== {name} on {title} ===", file=sys.stderr, flush=True)
            data = {"DATA_DIR": str(folder / f"bench-{name}-{title}")}
            code |= _run([sys.executable, "-m", f"tests.bench.{name}"], environment | data, redis_url)
    return code


def _run(command: list[str], environment: dict[str, str], redis_url: str) -> int:
    """Run one command to its end, whatever ends us; its exit code."""
    # What the caller's shell says about a site of their own must not reach the tests.
    inherited = {key: value for key, value in os.environ.items() if not key.endswith("_URL") and key != "SECRET_KEY"}
    process = subprocess.Popen(command, cwd=PLACE, env=inherited | {"TEST_REDIS_URL": redis_url} | environment)
    try:
        return process.wait()
    except BaseException:
        # Ctrl-C has reached it too; whatever ended us alone has not.
        for patience in (3, 20):
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(patience)
                raise
            process.send_signal(signal.SIGINT)
        process.kill()
        raise


# --- the servers -----------------------------------------------------------------------------------------
@contextlib.contextmanager
def postgresql(folder: Path) -> Iterator[str]:
    """A PostgreSQL of its own, without fsync: what it holds is thrown away. Yields its DATABASE_URL."""
    bin_folder = _postgresql_programs()
    folder.mkdir()
    # PostgreSQL refuses to run as root.
    user = "postgres" if os.geteuid() == 0 else None
    if user:
        shutil.chown(folder, user, pwd.getpwnam(user).pw_gid)
        folder.parent.chmod(0o711)
    data, port = folder / "data", free_port()
    _checked([bin_folder / "initdb", "-D", data, "-A", "trust", "-U", "tests", "-E", "UTF8", "-N"], folder, user)
    settings = {
        "listen_addresses": "127.0.0.1", "port": port, "unix_socket_directories": "", "fsync": "off",
        "full_page_writes": "off", "synchronous_commit": "off", "max_connections": 100,
    }  # fmt: skip
    options = [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
    # SIGINT is PostgreSQL's fast shutdown: sessions are ended, nothing is waited for.
    with _server([bin_folder / "postgres", "-D", data, *options], folder, signal.SIGINT, user):
        ready = [bin_folder / "pg_isready", "-q", "-h", "127.0.0.1", "-p", str(port)]
        _wait(lambda: subprocess.run(ready, check=False).returncode == 0, "PostgreSQL", folder)
        yield f"postgres://tests@127.0.0.1:{port}/postgres"


@contextlib.contextmanager
def redis(folder: Path) -> Iterator[str]:
    """A Redis of its own, keeping nothing. Yields its URL."""
    program = shutil.which("redis-server")
    if program is None:
        raise ServerMissing("redis-server is missing: install Debian's package redis-server")
    folder.mkdir()
    port = free_port()
    options = ["--port", str(port), "--bind", "127.0.0.1", "--save", "", "--appendonly", "no", "--dir", str(folder)]
    with _server([program, *options], folder, signal.SIGTERM, None):
        _wait(lambda: _listens(port), "Redis", folder)
        yield f"redis://127.0.0.1:{port}/0"


def free_port() -> int:
    """A port on loopback that nobody listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextlib.contextmanager
def _server(command: Sequence[str | Path], folder: Path, stop: signal.Signals, user: str | None) -> Iterator[None]:
    """A server as our child: it ends with the block, and the kernel ends it should we be killed."""
    parent = os.getpid()

    def end_with_parent() -> None:
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, stop)
        if os.getppid() != parent:
            os._exit(1)

    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(
            [str(part) for part in command],
            stdin=subprocess.DEVNULL, stdout=log, stderr=log, cwd=folder, preexec_fn=end_with_parent,  # noqa: PLW1509  # no threads here
            **_as_user(user),
        )  # fmt: skip
    try:
        yield
    finally:
        process.send_signal(stop)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _postgresql_programs() -> Path:
    installed = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda file: int(file.parts[4]))
    if installed:
        return installed[-1].parent
    on_path = shutil.which("initdb")
    if on_path is None:
        raise ServerMissing("PostgreSQL is missing: install Debian's package postgresql")
    return Path(on_path).parent


def _as_user(user: str | None) -> dict[str, object]:
    if user is None:
        return {}
    entry = pwd.getpwnam(user)
    return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": [], "env": os.environ | {"HOME": "/"}}


def _checked(command: Sequence[str | Path], folder: Path, user: str | None) -> None:
    done = subprocess.run(
        [str(part) for part in command], cwd=folder, capture_output=True, text=True, check=False, **_as_user(user)
    )
    if done.returncode:
        raise ServerMissing(f"{command[0]} failed: {done.stderr.strip()}")


def _wait(ready: Callable[[], bool], name: str, folder: Path, *, seconds: float = 20) -> None:
    until = time.monotonic() + seconds
    while not ready():
        if time.monotonic() > until:
            raise ServerMissing(f"{name} did not start: {(folder / 'log').read_text(errors='replace')[-2000:]}")
        time.sleep(0.05)


def _listens(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(0.2)
        return probe.connect_ex(("127.0.0.1", port)) == 0


def _end(_number: int, _frame: object) -> None:
    raise KeyboardInterrupt


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
