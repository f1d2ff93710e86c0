"""What an owner reads where their link was cut short by a mail program, or where we fail."""

import pytest
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.urls import get_resolver

from service_center.owner_pages.middleware import OwnersSideMiddleware

FAILED = {
    "en": "Something went wrong on our side",
    "fr": "Une erreur est survenue de notre côté",
    "de": "Bei uns ist etwas schiefgegangen",
    "it": "Si è verificato un errore da parte nostra",
    "es": "Se ha producido un error por nuestra parte",
    "ja": "当社側で問題が発生しました",
}


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("language", "said"), [("fr", "Ce lien ne mène à aucune page"), ("tlh", "This link opens nothing")]
)
def test_an_owners_address_that_is_none_speaks_to_owners(language: str, said: str) -> None:
    response = Client().get("/o/half/of/an/address/", headers={"Accept-Language": language})
    assert response.status_code == 404
    assert said in response.content.decode()
    assert response["Referrer-Policy"] == "no-referrer"


def failed(address: str, language: str) -> HttpResponse:
    """The site's answer to a fault of its own; without a database, which may be what failed."""
    request = RequestFactory().get(address, headers={"Accept-Language": language})
    answer = OwnersSideMiddleware(get_resolver().resolve_error_handler(500))(request)
    assert isinstance(answer, HttpResponse)
    return answer


@pytest.mark.parametrize("language", FAILED)
def test_a_fault_of_ours_speaks_to_owners_in_their_language_and_names_no_manager(language: str) -> None:
    response = failed("/o/a-secret/", language)
    assert response.status_code == 500
    assert FAILED[language] in response.content.decode()
    assert f'<html lang="{language}"' in response.content.decode()
    assert response["Cache-Control"] == "no-store, private"


def test_a_fault_of_ours_still_speaks_to_staff_as_staff() -> None:
    assert "tell your manager" in failed("/search/", "fr").content.decode()
