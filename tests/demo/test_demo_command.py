"""The demo as a visitor starts it: an address, four people to be, letters that arrive, and its end."""

import http.cookiejar
import re
import sqlite3
import time
import urllib.error
import urllib.parse
import urllib.request

import pytest

from service_center.demo.rules.house import ACCOUNTS
from tests.serving.processes import Site, started

pytestmark = pytest.mark.servers
MINUTE = 60


class Visitor:
    """A browser without scripts."""

    def __init__(self, site: Site) -> None:
        self._site = site
        self._browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))

    def look(self, address: str) -> str:
        with self._browser.open(self._site.url + address, timeout=10) as page:
            return str(page.read().decode())

    def sign_in(self, username: str, password: str) -> str:
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.look("/sign-in/"))
        assert token
        form = {"csrfmiddlewaretoken": token[1], "login": username, "password": password}
        request = urllib.request.Request(self._site.url + "/sign-in/", urllib.parse.urlencode(form).encode())
        with self._browser.open(request, timeout=10) as page:
            return str(page.read().decode())


def test_a_visitor_comes_in_within_a_minute_reads_letters_and_finds_it_all_again_the_next_time(tmp_path) -> None:
    with started("demo", tmp_path) as site:
        begun = time.monotonic()
        site.ready(seconds=MINUTE)
        assert time.monotonic() - begun < MINUTE
        front = Visitor(site).look("/sign-in/")
        for account in ACCOUNTS:
            assert account.password in front
            assert account.name in Visitor(site).sign_in(account.username, account.password)
        desk = Visitor(site)
        desk.sign_in("desk", "fernhollow-desk")
        letter = _first_letter(desk)
        link = re.search(rf'href="{re.escape(site.url)}(/o/[^"/]+/)"', letter)
        assert link
        assert "Fernhollow" in Visitor(site).look(link[1])
        site.press_ctrl_c()
        assert site.process.returncode == 0
        assert site.others() == []
        for account in ACCOUNTS:
            assert account.password in site.output
        assert site.url in site.output
    with started("demo", tmp_path) as again:
        again.ready(seconds=MINUTE / 2)
        again.press_ctrl_c()
        assert "Building" not in again.output
    with sqlite3.connect(tmp_path / "book.sqlite3") as book:
        assert book.execute("SELECT count(*) FROM book_piece").fetchone() == (3_744,)


def _first_letter(desk: Visitor) -> str:
    """The newest mail, once one has arrived."""
    until = time.monotonic() + MINUTE / 2
    while time.monotonic() < until:
        found = re.search(r'href="(/demo/mail/[\d-]+/)"', desk.look("/demo/mail/"))
        if found:
            return desk.look(found[1])
        time.sleep(0.5)
    raise AssertionError("no letter arrived")


def test_a_book_of_somebody_else_is_not_touched(tmp_path) -> None:
    with started("serve", tmp_path) as site:
        site.ready()
        site.press_ctrl_c()
    with sqlite3.connect(tmp_path / "book.sqlite3") as book:
        book.execute(
            "INSERT INTO book_piece (serial, use, status, place, serial_key, serial_key_reversed)"
            " VALUES ('X1', '', '', 'owner', 'X1', '1X')"
        )
    with started("demo", tmp_path) as demo:
        output = demo.process.communicate(timeout=MINUTE)[0]
        assert demo.process.returncode == 2
        assert "not the demo's" in output
        assert "DATA_DIR" in output
