"""What every answer on the owners' side tells browsers and the networks between, whoever gave it.

A view may be refused before it runs: a method it does not take, a form that cannot be read, an address that is none.
The address holds the secret then too.
"""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponseBase

from service_center.owner_pages.door import is_owners

HEADERS = {
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow",
    "Cache-Control": "no-store, private",
    "X-Frame-Options": "DENY",
}


class OwnersSideMiddleware:
    """Keep, send on and index nothing. The outermost, so that it has the last word over what others set."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if not is_owners(request):
            return self.get_response(request)
        if request.encoding:
            # Our forms are sent in UTF-8 and say so nowhere. Python would take names here that are no character set.
            request.encoding = "utf-8"
        response = self.get_response(request)
        for header, value in HEADERS.items():
            response.headers[header] = value
        return response
