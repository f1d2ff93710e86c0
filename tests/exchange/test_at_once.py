"""Imports that meet, and imports that die half way (reliability.md, F13)."""

import contextlib
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection, connections

from service_center.access.models import Trail
from service_center.book.models import HistoryEntry, Owner, Piece
from service_center.intervals.models import DueDate
from tests.exchange.books import EXAMPLE, faults, take_in, write


def a_book(folder: Path, pieces: int) -> Path:
    write(folder, "owners", *(f"O-{n},Ada Winter {n},,,en,,,yes" for n in range(pieces)))
    write(folder, "pieces", *(f"P-{n},,O-{n},,,2019-05-17,everyday,,in_use" for n in range(pieces)))
    write(folder, "history", *(f"E-{n},P-{n},2024-03-02,overhaul,yes,passed,own,," for n in range(pieces)))
    return folder


@pytest.mark.django_db(transaction=True)
def test_two_imports_of_the_same_files_at_once_are_one_import(tmp_path: Path) -> None:
    folder = a_book(tmp_path, 300)
    results = []
    together = threading.Barrier(3)

    def one() -> None:
        try:
            together.wait()
            results.append(take_in(folder))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [faults(result) for result in results] == [[], [], []]
    assert sorted(result.written for result in results) == [False, False, True]
    assert sorted(result.counts["pieces"].added for result in results) == [0, 0, 300]
    assert (Piece.objects.count(), HistoryEntry.objects.count(), Trail.objects.count()) == (300, 300, 1)


@pytest.mark.django_db(transaction=True)
def test_people_write_while_a_big_file_is_read(tmp_path: Path) -> None:
    """On one machine there is one writer: reading and checking files must not keep the counter waiting."""
    take_in(EXAMPLE)
    folder = a_book(tmp_path, 20_000)
    started, waits = threading.Event(), []

    def reads() -> None:
        try:
            started.set()
            take_in(folder, dry_run=True)
        finally:
            connections.close_all()

    thread = threading.Thread(target=reads)
    thread.start()
    started.wait()
    began = time.perf_counter()
    try:
        with nobody_waits_for_a_lock():
            while thread.is_alive():
                wrote = time.perf_counter()
                Owner.objects.filter(code="O-0001").update(name="Ada Summer")
                waits.append(time.perf_counter() - wrote)
                time.sleep(0.02)
    finally:
        thread.join()
    assert len(waits) > 5
    # They share the processor too: however slow it is, no single write takes half as long as the reading.
    assert max(waits) < (time.perf_counter() - began) / 2


@contextlib.contextmanager
def nobody_waits_for_a_lock() -> Iterator[None]:
    """Whoever would have to wait for another's lock is refused at once, on however slow a machine."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA busy_timeout")
            (patience,) = cursor.fetchone()
            cursor.execute("PRAGMA busy_timeout = 0")
        else:
            cursor.execute("SET lock_timeout = '1ms'")
        try:
            yield
        finally:
            after = f"PRAGMA busy_timeout = {int(patience)}" if connection.vendor == "sqlite" else "RESET lock_timeout"
            cursor.execute(after)


@pytest.mark.servers
@pytest.mark.django_db(transaction=True)
def test_an_import_killed_at_any_moment_leaves_nothing_and_can_be_run_again(tmp_path: Path) -> None:
    folder = a_book(tmp_path, 4_000)
    chance = random.Random(20260301)
    command = [sys.executable, "manage.py", "import_book", str(folder), "--json", "--as-of", "2026-03-01"]
    database = connection.settings_dict["NAME"]
    url = (
        f"sqlite:///{database}"
        if connection.vendor == "sqlite"
        else os.environ["DATABASE_URL"].rpartition("/")[0] + f"/{database}"
    )
    environment = os.environ | {"DATABASE_URL": url}
    began = time.perf_counter()
    whole = subprocess.run(
        [*command, "--dry-run"], cwd=settings.BASE_DIR, env=environment, capture_output=True, check=True
    )
    assert b'"added": 4000' in whole.stdout
    usual = 2 * (time.perf_counter() - began)
    cut_short = 0
    for _ in range(8):
        process = subprocess.Popen(command, cwd=settings.BASE_DIR, env=environment, stdout=subprocess.DEVNULL)
        try:
            process.wait(chance.uniform(0.2, usual))
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            process.wait()
        found = (Owner.objects.count(), Piece.objects.count(), HistoryEntry.objects.count(), DueDate.objects.count())
        assert found in {(0, 0, 0, 0), (4_000, 4_000, 4_000, 4_000)}
        if process.returncode == 0 or any(found):
            break
        cut_short += 1
    assert cut_short
    subprocess.run(command, cwd=settings.BASE_DIR, env=environment, check=True, capture_output=True)
    assert (Piece.objects.count(), DueDate.objects.count(), Trail.objects.count()) == (4_000, 4_000, 1)
    assert not take_in(folder).written
