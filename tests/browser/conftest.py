"""The site on a port of its own, styles and all, and a real Chromium in front of it."""

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import pytest
from django.db import connections
from django.test.testcases import LiveServerThread
from playwright.sync_api import Browser, BrowserContext, sync_playwright

from service_center.access.actions import make_staff
from service_center.access.rules import Role
from tests.factories import BoutiqueFactory

PASSWORD = "moss-lantern-gasket"
CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
# Nothing but the site itself is asked; the sandbox needs a kernel that containers rarely give.
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    # Playwright keeps an event loop in this thread; the tests' own use of the database beside it is synchronous.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


class UnderWay:
    """The site, and how many requests it is at work on: a page that was closed may have asked for one more."""

    def __init__(self, application: Any) -> None:
        self._application, self._lock, self._number = application, threading.Lock(), 0

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        self._add(1)
        try:
            answer: Iterable[bytes] = self._application(environ, start_response)
            return answer
        finally:
            self._add(-1)

    def _add(self, number: int) -> None:
        with self._lock:
            self._number += number

    def wait(self, seconds: float = 20) -> None:
        """Until none is: whoever empties the tables of a request at work may meet it in a deadlock."""
        until = time.monotonic() + seconds
        while self._number and time.monotonic() < until:
            time.sleep(0.02)


@pytest.fixture
def site(transactional_db: None) -> Iterator[str]:
    """The address of the site, served over this test's database with styles as in service."""
    served: list[UnderWay] = []

    def counted(application: Any) -> UnderWay:
        served.append(UnderWay(application))
        return served[0]

    thread = LiveServerThread("127.0.0.1", counted)
    thread.daemon = True
    thread.start()
    thread.is_ready.wait()
    if thread.error:
        raise thread.error
    yield f"http://127.0.0.1:{thread.port}"
    thread.terminate()
    served[0].wait()
    connections.close_all()


@pytest.fixture
def context_of(chromium: Browser, site: str) -> Iterator[Callable[..., BrowserContext]]:
    """A fresh browser in which a member of staff of that role has signed in; nobody for an empty role."""
    opened: list[BrowserContext] = []

    def sign_in(role: str = "", boutique: str = "", *, width: int = 1280, scheme: str = "light") -> BrowserContext:
        context = chromium.new_context(
            base_url=site,
            viewport={"width": width, "height": 1112},
            color_scheme="dark" if scheme == "dark" else "light",
        )
        opened.append(context)
        if role:
            name = f"{role}-{len(opened)}"
            make_staff(username=name, password=PASSWORD, role=Role(role), boutique=boutique or _needed_by(role))
            page = context.new_page()
            page.goto("/sign-in/")
            page.get_by_label("Username").fill(name)
            page.get_by_label("Password").fill(PASSWORD)
            page.get_by_role("main").get_by_role("button", name="Sign in").click()
            page.get_by_role("heading", name="Today").wait_for()
            page.close()
        return context

    yield sign_in
    for context in opened:
        context.close()


def _needed_by(role: str) -> str:
    return str(BoutiqueFactory().code) if role == Role.BOUTIQUE else ""
