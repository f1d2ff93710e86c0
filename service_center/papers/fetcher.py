"""What a paper may fetch while it is made: nothing but what it carries inside itself (data: addresses).

By default the library reads local files into a PDF and fetches every address (design/reliability.md, 0).
"""

from typing import Any

from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse


class InsideOnly(URLFetcher):  # type: ignore[misc]  # the library ships no types
    """Stops the rendering at any address that leads out of the paper."""

    def __init__(self) -> None:
        super().__init__(allowed_protocols=("data",), allow_redirects=False)

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        if not url.lower().startswith("data:"):
            raise FatalURLFetchingError(f"a paper fetches nothing, and this one asked for {url[:200]}")
        return super().fetch(url, headers)

    def open(self, url: Any, data: Any = None, timeout: Any = None) -> URLFetcherResponse:
        """The library's other door, through the same check."""
        return self.fetch(url if isinstance(url, str) else url.full_url)
