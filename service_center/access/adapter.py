"""How accounts come to be: the house makes them; nobody signs up."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedDoorAdapter(DefaultAccountAdapter):  # type: ignore[misc]  # allauth ships no types
    """Sign-up is closed."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
