"""People at a real site, over HTTP: they sign in, read forms off pages, and send them, many times at once if they like."""

import re
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from html.parser import HTMLParser
from http.client import HTTPConnection, HTTPResponse
from http.cookiejar import CookieJar
from typing import Any
from uuid import uuid4

from django.urls import reverse

Fields = Mapping[str, str | Sequence[str]]


@dataclass(frozen=True, slots=True)
class Page:
    """An answer. `to`: where it sends the browser next, if anywhere."""

    status: int
    text: str
    to: str = ""


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_about: Any, **_more: Any) -> None:
        return None


class Visitor:
    """A browser without JavaScript, with its cookies."""

    def __init__(self, url: str) -> None:
        self._url = url
        self._cookies = CookieJar()
        self._opener = urllib.request.build_opener(_NoRedirect, urllib.request.HTTPCookieProcessor(self._cookies))

    def sign_in(self, name: str, password: str) -> None:
        address = reverse("account_login")
        page = self.get(address)
        assert page.status == 200, page.status
        answer = self.post(address, {"login": name, "password": password})
        assert answer.status == 302, answer.text[:2000]

    def get(self, path: str, method: str = "GET") -> Page:
        return self._ask(urllib.request.Request(self._url + path, method=method))

    def post(self, path: str, fields: Fields) -> Page:
        return self._ask(self._form(path, fields))

    def post_files(self, path: str, fields: Mapping[str, str], files: Mapping[str, bytes], *, name: str) -> Page:
        """A form with files, by their names, in the field `name`."""
        token = next((cookie.value or "" for cookie in self._cookies if cookie.name == "csrftoken"), "")
        parts, edge = [], uuid4().hex
        for field, value in {"csrfmiddlewaretoken": token, **fields}.items():
            parts.append(f'--{edge}\r\nContent-Disposition: form-data; name="{field}"\r\n\r\n{value}\r\n'.encode())
        for file, content in files.items():
            about = f'--{edge}\r\nContent-Disposition: form-data; name="{name}"; filename="{file}"\r\n'
            parts.append(f"{about}Content-Type: image/jpeg\r\n\r\n".encode() + content + b"\r\n")
        body = b"".join(parts) + f"--{edge}--\r\n".encode()
        kind = {"Content-Type": f"multipart/form-data; boundary={edge}"}
        return self._ask(urllib.request.Request(self._url + path, body, kind))

    def post_at_once(self, path: str, fields: Fields, times: int) -> list[Page]:
        """The same form, sent by several taps that arrive together."""
        with ThreadPoolExecutor(times) as taps:
            return list(taps.map(lambda _tap: self.post(path, fields), range(times)))

    def post_and_leave(self, path: str, fields: Fields) -> None:
        """Send a form and cut the line before the answer."""
        request = self._form(path, fields)
        self._cookies.add_cookie_header(request)
        where = urllib.parse.urlsplit(self._url)
        line = HTTPConnection(where.hostname or "", where.port, timeout=30)
        line.request("POST", path, request.data, dict(request.header_items()))  # type: ignore[arg-type]
        line.close()

    def _form(self, path: str, fields: Fields) -> urllib.request.Request:
        token = next((cookie.value or "" for cookie in self._cookies if cookie.name == "csrftoken"), "")
        data = urllib.parse.urlencode({"csrfmiddlewaretoken": token, **fields}, doseq=True).encode()
        return urllib.request.Request(self._url + path, data)

    def _ask(self, request: urllib.request.Request) -> Page:
        try:
            response: HTTPResponse | urllib.error.HTTPError = self._opener.open(request, timeout=60)
        except urllib.error.HTTPError as error:
            response = error
        with response:
            where = response.headers.get("Location", "")
            return Page(response.status or 0, response.read().decode(errors="replace"), where)


class _Hidden(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        about = dict(attrs)
        if tag == "input" and about.get("type") == "hidden" and about.get("name"):
            self.fields[about["name"] or ""] = about.get("value") or ""


def hidden_fields(page: Page) -> dict[str, str]:
    """The hidden fields of a page's forms: the key that makes a form count once is among them."""
    reader = _Hidden()
    reader.feed(page.text)
    reader.fields.pop("csrfmiddlewaretoken", None)
    return reader.fields


def owners_secret(text: str, where: str) -> str:
    """The secret in a letter's link, read off the letter as its owner got it: `where` is "/o/" or "/o/stop/"."""
    found = re.search(re.escape(where) + r"([\w-]{43})/", text)
    assert found, text
    return found[1]


def all_at_once(deeds: Sequence[Callable[[], Page]]) -> list[Page]:
    """Several people do something at one moment."""
    with ThreadPoolExecutor(len(deeds)) as people:
        return [done.result() for done in [people.submit(deed) for deed in deeds]]
