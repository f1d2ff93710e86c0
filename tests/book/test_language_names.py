"""How staff call an owner's language."""

import pytest

from service_center.book.wording import name_of_language


@pytest.mark.parametrize(
    ("tag", "name"),
    [
        ("ja", "Japanese"),
        ("ko", "Korean"),
        ("de-AT", "German"),
        ("zh_Hans", "Simplified Chinese"),
        ("tlh", "tlh"),
        ("", ""),
    ],
)
def test_a_language_is_named_and_one_without_a_name_stands_as_it_is(tag: str, name: str) -> None:
    assert name_of_language(tag) == name
