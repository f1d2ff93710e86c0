"""Whatever is sent to an owner's form: never a fault, nothing of others, no English to a French owner, no quiet loss."""

import re
from collections.abc import Callable
from datetime import date
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.http import HttpResponse
from django.test import Client
from django.urls import resolve

from service_center.book.models import Owner, PostalAddress
from service_center.intake.visits.models import Visit
from service_center.letters.models import Answer, Letter
from service_center.owner_pages import urls
from service_center.owner_pages.models import OwnerRequest
from service_center.owner_pages.rules import RequestKind
from tests.factories import PieceFactory
from tests.owner_pages.conftest import Sent, open_pages, send_about
from tests.owner_pages.test_altered_addresses import BEHIND, Household, address
from tests.owner_pages.test_details import save
from tests.owner_pages.test_new_email import confirming

pytestmark = pytest.mark.django_db
FORM, PARTS = "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"
NOT_WHOLE = "n’est pas arrivée entière"
ODD: list[str | bytes] = [
    "", "   ", "x" * 10_000, "a\0b", "\x01\x1b\x7f", "a\u202eb\u2066", "<b>x</b>", "nowhere", "-1", "9" * 400,
    "1e999", "NaN", "0000-00-00", "2026-02-31", "0001-01-01", "9999-12-31", "2569-09-01", "٢٠٢٦-٠٩-٠١", "0001-01-01T00:00",
    "9999-12-31T23:59", "ada@a\u202eb.example", "ada@x\u2028y.example", b"\xff\xfe", b"\xed\xa0\x80",
]  # fmt: skip


class Forms:
    """Every form that an owner can send, filled as its page would have it."""

    def __init__(self, mine: Household) -> None:
        letter, visit = mine.sent.address, f"{mine.sent.address}visit/{mine.visit.pk}/"
        boutique, owner = mine.piece.boutique.code, mine.piece.owner
        confirming(mine.sent)
        # The piece of the letter is in the house; another, which still waits for an answer, has a letter of its own.
        Letter.objects.filter(pk=mine.sent.letter.pk).update(planned_on=date(2026, 5, 1))
        waiting = PieceFactory(owner=owner, boutique=mine.piece.boutique)
        asks, piece = send_about(waiting).address, waiting.serial
        place = {"boutique": boutique, "start": "2026-06-12T11:00", "day": "2026-06-12", "from": "2026-06-12"}
        self.all: dict[str, tuple[str, dict[str, str]]] = {
            "book": (f"{asks}visit/", {"piece": piece, "form_key": str(uuid4())} | place),
            "move": (f"{visit}move/", {"form_key": str(uuid4())} | place),
            "cancel": (f"{visit}cancel/", {"day": "2026-07-03", "form_key": str(uuid4())}),
            "answer": (f"{asks}answer/", {"piece": piece, "choice": "done_elsewhere", "day": "2026-02-03"}),
            "letters": (f"{letter}answer/", {"choice": "letters_again"}),
            "details": (
                f"{letter}details/",
                {"email": owner.email, "phone": owner.phone, "address": "Quay 4", "country": "GB", "language": "fr"},
            ),
            "name": (f"{letter}details/name/", {"said": "Ada Summer"}),
            "confirm": (f"/o/address/{'n' * 43}/", {}),
            "withdraw": (f"{letter}details/email/", {}),
            "copy": (f"{letter}data/copy/", {"form": "json"}),
            "correction": (f"{letter}data/ask/", {"kind": "correction", "said": "The street"}),
            "estimate": (f"{letter}estimate/{mine.estimate}/answer/", {"answer": "agree"}),
            "extension": (f"{letter}watch/{mine.piece.pk}/extension/", {}),
            "stop": (mine.sent.stop_address, {"List-Unsubscribe": "One-Click"}),
            "open": (f"{letter}details/", {"open": "yes"}),
        }


NAMES = ["book", "move", "cancel", "answer", "letters", "details", "name", "confirm", "withdraw", "copy", "correction",
         "estimate", "extension", "stop", "open"]  # fmt: skip


@pytest.fixture
def mine() -> Household:
    """A household that reads French; an estimate of theirs waits for an answer."""
    made = Household("mine")
    Owner.objects.filter(pk=made.piece.owner_id).update(language="fr")
    return made


@pytest.fixture
def forms(mine: Household) -> dict[str, tuple[str, dict[str, str]]]:
    return Forms(mine).all


def send(client: Client, where: str, body: bytes | str, kind: str = FORM) -> HttpResponse:
    """As it would come over the wire; how often buttons are pressed is another matter."""
    cache.clear()
    response: HttpResponse = client.generic("POST", where, body, kind)
    return response


def errors_of(response: HttpResponse) -> set[str]:
    said = re.findall(r'class="(?:field__error|notice notice--caution)"[^>]*>(.*?)</p>', response.content.decode())
    return {re.sub("<[^>]+>", "", one).strip() for one in said}


def test_every_form_of_the_owners_side_is_sent_below(forms: dict[str, Any]) -> None:
    """A new address that takes forms needs a row above."""
    assert list(forms) == NAMES
    shows_only = {
        "letter",
        "visit",
        "visit_calendar",
        "piece",
        "receipt",
        "report",
        "estimate_paper",
        "photograph",
        "data",
    }
    sent_to = {resolve(where).url_name for where, _fields in forms.values()}
    assert sent_to | shows_only == {one.name for one in urls.urlpatterns}
    assert not sent_to & shows_only


@pytest.mark.parametrize("name", NAMES)
def test_no_value_of_any_field_is_a_fault_shows_anything_of_others_or_is_answered_in_english(
    client: Client, forms: dict[str, tuple[str, dict[str, str]]], name: str
) -> None:
    other = Household("other")
    where, good = forms[name]
    theirs = [other.piece.serial, str(other.piece.pk), str(other.visit.pk), str(other.estimate)]
    for field in good or ["besides"]:
        bodies = [urlencode(good | {field: value}) for value in [*ODD, *theirs]]
        bodies += [f"{urlencode(good)}&{urlencode({field: again})}" for again in (good.get(field, ""), "nowhere")]
        bodies.append(urlencode({one: typed for one, typed in good.items() if one != field}))
        for body in bodies:
            # What was asked before stays on the page, in the owner's own words: each of these is looked at alone.
            OwnerRequest.objects.filter(kind=RequestKind.CORRECTION).delete()
            answer = send(client, where, body)
            assert answer.status_code in {200, 302, 400, 404, 409, 422, 429}, body
            if answer["Content-Type"].startswith("text/html") and answer.content:
                text = answer.content.decode()
                assert '<html lang="fr"' in text, body
                assert "Owner other" not in text
                assert f'href="/o/{other.sent.page}' not in text
                assert other.piece.serial not in text or other.piece.serial in body


@pytest.mark.parametrize(
    ("name", "field", "value"),
    [
        ("details", "email", "x" * 300),
        ("details", "email", "ada@a\u202eb.example"),
        ("details", "phone", "by way of the hotel"),
        ("details", "phone", "x" * 10_000),
        ("details", "address", "Quay 4\0"),
        ("details", "address", "x" * 10_000),
        ("name", "said", "Ada\0Winter"),
        ("name", "said", "x" * 10_000),
        ("correction", "said", "x" * 10_000),
        ("answer", "day", "2026-02-31"),
        ("answer", "day", "0000-00-00"),
        ("answer", "day", "2569-09-01"),
        ("cancel", "day", "9999-12-31"),
        ("cancel", "day", "0001-01-01"),
    ],
)
def test_what_was_typed_stands_in_the_field_again_beside_a_reason_in_french(
    client: Client,
    mine: Household,
    forms: dict[str, Any],
    snapshot: Callable[[], Any],
    name: str,
    field: str,
    value: str,
) -> None:
    where, good = forms[name]
    send(client, where, "")  # a first press says that the letter arrived
    before = snapshot()
    french = send(client, where, urlencode(good | {field: value}))
    assert french.status_code == 422
    assert value.replace("\0", "&#0;") in french.content.decode() or value in french.content.decode()
    assert snapshot() == before
    Owner.objects.filter(pk=mine.piece.owner_id).update(language="en")
    english = send(client, where, urlencode(good | {field: value}))
    assert errors_of(french)
    assert not errors_of(french) & errors_of(english)


UNREADABLE = {
    "no boundary": ("multipart/form-data", b"--x\r\nbroken"),
    "another encoding": (
        f"{PARTS}; charset=rot13",
        b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\nb\r\n--x--\r\n',
    ),
    "an encoding in a name": (PARTS, b"--x\r\nContent-Disposition: form-data; name*=rot13''a\r\n\r\nb\r\n--x--\r\n"),
    "halves of characters": (
        f"{PARTS}; charset=raw_unicode_escape",
        (
            b'--x\r\nContent-Disposition: form-data; name="said"\r\n\r\n\\ud800\r\n--x\r\n'
            b'Content-Disposition: form-data; name="kind"\r\n\r\ncorrection\r\n--x--\r\n'
        ),
    ),
    "UTF-16": (f"{FORM}; charset=utf-16", "said=x".encode("utf-16")),
    "no form": ("application/json", b'{"said": "x"}'),
    "fields without end": (FORM, b"&".join(b"a%d=1" % number for number in range(1100))),
    "too long": (FORM, b"said=" + b"x" * (16 * 1024 * 1024)),
}
TOLD = {"no boundary", "fields without end", "too long"}


@pytest.mark.parametrize("kind", UNREADABLE)
def test_what_is_no_form_is_no_fault_and_where_nothing_can_be_read_it_says_so_in_french(
    client: Client, forms: dict[str, tuple[str, dict[str, str]]], kind: str
) -> None:
    for where, _good in forms.values():
        answer = send(client, where, UNREADABLE[kind][1], UNREADABLE[kind][0])
        assert answer.status_code in ({400} if kind in TOLD else {200, 302, 400, 409, 422}), where
        text = answer.content.decode()
        assert '<html lang="fr"' in text or answer.status_code == 302
        assert NOT_WHOLE in text or kind not in TOLD


def test_a_look_that_names_an_encoding_that_is_none_is_a_look(client: Client, sent: Sent) -> None:
    answer = client.generic("GET", f"{sent.address}?a=b%FF", b"", "text/x; charset=rot13")
    assert answer.status_code == 200


@pytest.mark.parametrize("name", ["answer", "book", "copy", "correction", "estimate", "stop", "cancel"])
def test_a_button_that_cannot_be_heeded_says_so_and_writes_nothing(
    client: Client, forms: dict[str, tuple[str, dict[str, str]]], snapshot: Callable[[], Any], name: str
) -> None:
    where, good = forms[name]
    if name != "stop":  # whose page shows no more than its letter
        open_pages(client, Sent(Visit.objects.get().letter, where.split("/")[2], ""))
    unheard = {"book": "piece", "copy": "form", "correction": "kind", "cancel": "form_key"}.get(
        name, next(reversed(good))
    )
    unheard = "choice" if name == "answer" else unheard
    send(client, where, "")
    before = snapshot()
    cache.clear()
    answer = client.post(where, good | {unheard: "nowhere"}, follow=True)
    assert NOT_WHOLE in answer.content.decode()
    assert snapshot() == before
    assert good.get("day", "") in answer.content.decode() or name in {"answer", "book"}


def test_a_visit_is_cancelled_after_a_form_that_came_without_its_key(client: Client, mine: Household) -> None:
    cancel = f"{mine.sent.address}visit/{mine.visit.pk}/cancel/"
    page = client.post(cancel, {"day": "2026-07-04"}).content.decode()
    key = re.search(r'name="form_key" value="([^"]+)"', page)
    assert key
    assert 'value="2026-07-04"' in page
    assert client.post(cancel, {"day": "2026-07-04", "form_key": key[1]}).status_code == 302
    assert Answer.objects.latest("pk").choice == "not_now"


# --- particulars ---------------------------------------------------------------------------------------------


def test_a_field_that_was_not_sent_stays_as_it_was(client: Client, sent: Sent) -> None:
    save(client, sent, address="Quay 4")
    owner = Owner.objects.get(pk=sent.letter.owner_id)
    assert client.post(f"{sent.address}details/", {"language": "de"}).status_code == 302
    after = Owner.objects.get(pk=owner.pk)
    assert (after.email, after.phone, after.country) == (owner.email, owner.phone, owner.country)
    assert after.language == "de"
    assert PostalAddress.objects.get(owner=owner).lines == "Quay 4"


@pytest.mark.parametrize(
    "typed",
    [
        "\u202d+41 44 000 00 00\u202c",
        "\u200e+41 44 000 00 00",
        "+٤١ ٤٤ ٠٠٠ ٠٠ ٠٠",
        "＋41 44 000 00 00",
        "+४१ 44 000 00 00",
    ],
)
def test_a_telephone_number_is_taken_in_any_digits_and_as_an_address_book_copies_it(
    client: Client, sent: Sent, typed: str
) -> None:
    """An address book puts marks of direction around a number that nobody sees; its owner could not take them out."""
    assert save(client, sent, phone=typed).status_code == 302
    assert Owner.objects.get(pk=sent.letter.owner_id).phone == "+41 44 000 00 00"


def test_nobody_is_asked_to_write_a_name_of_control_characters(client: Client, sent: Sent) -> None:
    answer = client.post(f"{sent.address}details/name/", {"said": "\x01\x1b"})
    assert answer.status_code == 422
    assert "Please fill this in." in answer.content.decode()
    assert not OwnerRequest.objects.filter(kind=RequestKind.NAME).exists()


# --- what stands around every answer -------------------------------------------------------------------------


def assert_quiet(answer: Any) -> None:
    assert answer["Referrer-Policy"] == "no-referrer"
    assert answer["Cache-Control"] == "no-store, private"
    assert "noindex" in answer["X-Robots-Tag"]
    assert "'none'" in answer["Content-Security-Policy"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Frame-Options"] == "DENY"


@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "BREW"])
def test_every_answer_of_the_owners_side_is_kept_sent_on_and_indexed_by_nobody(
    client: Client, mine: Household, method: str
) -> None:
    """Refused methods too, and forms without a cookie; of a page that takes no form a POST is refused as such."""
    strict = Client(enforce_csrf_checks=True)
    open_pages(client, mine.sent)
    places = [address(pattern, mine.sent.page, mine.thing(pattern)) for pattern in BEHIND]
    places += [
        mine.sent.stop_address,
        f"/o/address/{'n' * 43}/",
        f"/o/{'y' * 40}/",
        "/o/half/of/an/address/",
        mine.sent.address[:-1],
    ]
    for where in places:
        for browser in (client, strict):
            cache.clear()
            answer = browser.generic(method, where)
            assert_quiet(answer)
            if method in {"PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "BREW"}:
                assert answer.status_code in {404, 405, 301}, where
            if answer.status_code == 405:
                assert set(answer["Allow"].split(", ")) <= {"GET", "HEAD", "POST"}


def test_a_form_to_a_page_without_one_is_told_by_the_method_and_not_by_the_desk_s_page(mine: Household) -> None:
    strict = Client(enforce_csrf_checks=True)
    for where in (mine.sent.address, f"{mine.sent.address}visit/{mine.visit.pk}/"):
        answer = strict.post(where)
        assert (answer.status_code, answer.content) == (405, b"")


@pytest.mark.parametrize(
    ("more", "status"),
    [({"headers": {"host": "else where.example"}}, 400), ({"QUERY_STRING": "&".join(["a"] * 1100)}, 400)],
    ids=["no host", "fields without end"],
)
def test_a_request_that_is_none_is_told_in_the_browser_s_language(
    client: Client, sent: Sent, more: Any, status: int
) -> None:
    client.cookies.clear()
    headers = {"accept-language": "fr"} | more.pop("headers", {})
    answer = client.get(sent.address, headers=headers, **more)
    assert answer.status_code == status
    assert NOT_WHOLE in answer.content.decode()
    assert_quiet(answer)


def test_too_many_misses_are_told_quietly(client: Client, db: None) -> None:
    answers = [client.get(f"/o/never-{number}/") for number in range(25)]
    assert answers[-1].status_code == 429
    assert_quiet(answers[-1])


def test_pages_of_the_desk_keep_their_own_headers(client: Client, db: None) -> None:
    assert client.get("/accounts/login/")["Referrer-Policy"] == "same-origin"
