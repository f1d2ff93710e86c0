"""A real site under people who tap twice, leave early or only look, and with its broker frozen (F9, F15 and F17)."""

import contextlib
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

import pytest
from django.urls import URLPattern, reverse

from service_center.owner_pages.urls import urlpatterns
from tests.faults.houses import POSTGRESQL, SQLITE, House, Patterns
from tests.faults.visitors import Fields, Page, Visitor, all_at_once, hidden_fields, owners_secret
from tests.faults.works import Redis, environment
from tests.serving.processes import started

pytestmark = pytest.mark.servers
PASSWORD = "a password of these tests"
WORK = {"done_by": "own", "case_opened": "no", "tightness": "not_tested"}


@dataclass
class Site:
    """A house with letters out and letters held, served; `ida` of the desk has signed in."""

    house: House
    redis: Redis
    url: str
    ida: Visitor

    def number(self, statement: str) -> int:
        [(found,)] = self.house.rows(statement)
        return int(found)

    def piece(self, owner: int) -> int:
        return self.number(f"SELECT id FROM book_piece WHERE serial = 'FH21-O{owner:05d}-0'")

    def letter_of(self, owner: int) -> str:
        """The letter as the owner got it."""
        code = f"o{owner:05d}@owners.example"
        return next(mail.text for mail in self.house.sink.messages if mail.recipients == (code,))

    def everything(self) -> dict[str, list[tuple[Any, ...]]]:
        """Every row of every table but the sessions', which note that somebody is still there."""
        tables = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        if self.house.vendor == POSTGRESQL:
            tables = "SELECT table_name FROM information_schema.tables WHERE table_schema = 'public'"
        names = sorted(name for (name,) in self.house.rows(tables))
        ignored = {"django_session", "letters_sender"}
        return {
            name: sorted(self.house.rows(f'SELECT * FROM "{name}"'), key=repr) for name in names if name not in ignored
        }


@pytest.fixture(scope="module", params=[SQLITE, POSTGRESQL])
def site(
    request: pytest.FixtureRequest, patterns: Patterns, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Site]:
    with contextlib.ExitStack() as stack:
        house = stack.enter_context(patterns.house(str(request.param), owners=30))
        house.do("give_password", password=PASSWORD)
        house.written()
        house.do("no_round_today")
        house.write("UPDATE letters_letter SET state = 'held' WHERE id > (SELECT min(id) + 9 FROM letters_letter)")
        assert house.do("send")["sent"] == 10
        redis = Redis(tmp_path_factory.mktemp("site") / "redis")
        redis.start()
        stack.callback(redis.close)
        about = environment(house, BROKER_URL=redis.url)
        running = stack.enter_context(started("serve", house.folder, **about))
        running.ready()
        # A pipe that nobody reads is full after a few hundred refusals, and whoever writes to it waits.
        threading.Thread(target=lambda: deque(running.process.stdout or (), maxlen=100), daemon=True).start()
        ida = Visitor(running.url)
        ida.sign_in("ida", PASSWORD)
        yield Site(house, redis, running.url, ida)


def test_while_the_broker_is_frozen_each_page_answers_and_each_deed_is_saved(site: Site) -> None:
    held = [letter for (letter,) in site.house.rows("SELECT id FROM letters_letter WHERE state = 'held' LIMIT 5")]
    # Whatever hour it is: in the morning of a working day they would be out at once.
    site.house.write("UPDATE letters_letter SET not_before = '2031-01-01' WHERE state = 'held'")
    site.redis.freeze()
    try:
        seconds = []
        for letter in held:
            began = time.monotonic()
            answer = site.ida.post(reverse("letters:release", args=[letter]), {})
            seconds.append(time.monotonic() - began)
            assert (answer.status, answer.to) == (302, reverse("letters:letter", args=[letter]))
    finally:
        site.redis.thaw()
    assert max(seconds) <= 3
    assert {site.house.state_of(letter) for letter in held} == {"waiting"}
    assert site.number("SELECT count(*) FROM access_trail WHERE deed = 'letter_released'") == 5


@dataclass(frozen=True)
class Form:
    """A form, who sends it, and what it must have made once, however often it was sent."""

    name: str
    page: Callable[[Site], str]
    to: Callable[[Site], str]
    fields: Callable[[Site], Fields]
    made: Callable[[Site], str]


def at_the_desk(name: str, view: str, owner: int, fields: Fields, made: str) -> Form:
    """A form of a piece's own page."""

    def address(site: Site) -> str:
        return reverse(view, args=[site.piece(owner)])

    return Form(name, address, address, lambda _site: fields, lambda site: made.format(piece=site.piece(owner)))


def of_an_owner(name: str, view: str, owner: int, where: str, fields: Callable[[Site], Fields], made: str) -> Form:
    """A form behind the link in an owner's letter."""

    def address(site: Site, to: str = view) -> str:
        return reverse(to, kwargs={"token": owners_secret(site.letter_of(owner), where)})

    seen = "owner_pages:stop_letters" if where == "/o/stop/" else "owner_pages:letter"
    return Form(name, lambda site: address(site, seen), address, fields, lambda _site: made)


def signing(site: Site, owner: int) -> str:
    """The last step of a drop-off at which all is said, before a desk that has begun it."""
    site.ida.post(reverse("intake:drop_off", args=[site.piece(owner)]), {})
    boutique = str(site.number("SELECT id FROM book_boutique"))
    story = {"asked": ["strap"], "owner_says": "The strap is torn.", "boutique": boutique}
    for step, fields in (("story", story), ("condition", {"all_as_worn": "on", "declared_currency": "EUR"})):
        site.ida.post(sign_step(site, owner).replace("/sign/", f"/{step}/"), fields)
    return sign_step(site, owner)


def sign_step(site: Site, owner: int) -> str:
    draft = site.number(f"SELECT max(id) FROM intake_draft WHERE piece_id = {site.piece(owner)}")
    return reverse("intake:step", args=[draft, "sign"])


def order_of(site: Site, owner: int) -> str:
    drop_off = site.number(f"SELECT max(id) FROM intake_dropoff WHERE piece_id = {site.piece(owner)}")
    return reverse("bench:order", args=[f"R-{drop_off:06d}"])


def made_ready(site: Site, owner: int) -> str:
    """The order of a strap that was changed."""
    order = order_of(site, owner)
    changed = {"deed": "finish", "finish-operation": "strap", "finish-minutes": "15", "finish-form_key": str(uuid4())}
    for fields in (changed, {"deed": "move", "move-to": "ready"}):
        assert site.ida.post(order, fields).status == 302
    return order


ENTRIES = "SELECT count(*) FROM book_historyentry WHERE piece_id = {piece}"
FORMS = [
    at_the_desk("an entry", "pieces:record_entry", 20, {"kind": "strap", **WORK}, ENTRIES),
    Form(
        "a drop-off signed",
        lambda site: signing(site, 21),
        lambda site: sign_step(site, 21),
        lambda _site: {"signer": "Ada Winter", "agrees": "on"},
        lambda site: f"SELECT count(*) FROM intake_dropoff WHERE piece_id = {site.piece(21)}",
    ),
    Form(
        "a hand-back",
        lambda site: made_ready(site, 21),
        lambda site: order_of(site, 21),
        lambda _site: {"deed": "hand_back", "hand_back-note": "A strap of calf."},
        lambda site: ENTRIES.format(piece=site.piece(21)),
    ),
    at_the_desk(
        "another owner",
        "intake:owner_of",
        22,
        {
            "name": "Zenobia Quillfeather",
            "phone": "+44 20 7946 0999",
            "email": "zq@elsewhere.example",
            "language": "en",
        },
        "SELECT count(*) FROM book_owner WHERE name = 'Zenobia Quillfeather'",
    ),
    Form(
        "a new piece",
        lambda _site: reverse("intake:new_piece"),
        lambda _site: reverse("intake:new_piece"),
        lambda _site: {"serial": "FH24-900900", "name": "Otto Fernsby", "phone": "+44 161 496 0000", "language": "en"},
        lambda _site: (
            "SELECT count(*) FROM book_owner o LEFT JOIN book_piece p ON p.owner_id = o.id WHERE o.name = 'Otto Fernsby'"
        ),
    ),
    of_an_owner(
        "done elsewhere",
        "owner_pages:answer",
        2,
        "/o/",
        lambda _site: {"piece": "FH21-O00002-0", "choice": "done_elsewhere", "day": "2018-05-04"},
        "SELECT count(*) FROM book_historyentry e JOIN book_piece p ON p.id = e.piece_id WHERE p.serial = 'FH21-O00002-0'",
    ),
    of_an_owner(
        "no longer mine",
        "owner_pages:answer",
        3,
        "/o/",
        lambda _site: {"piece": "FH21-O00003-0", "choice": "no_longer_mine"},
        "SELECT count(*) FROM letters_answer a JOIN book_owner o ON o.id = a.owner_id WHERE o.code = 'O00003'",
    ),
    of_an_owner(
        "corrected particulars",
        "owner_pages:details",
        6,
        "/o/",
        lambda _site: {"email": "o00006@owners.example", "phone": "+41 44 000 00 00", "language": "en"},
        "SELECT count(*) FROM access_trail WHERE deed = 'owner_corrects' AND subject = 'owner:O00006'",
    ),
    of_an_owner(
        "erasure",
        "owner_pages:data_ask",
        7,
        "/o/",
        lambda _site: {"kind": "erasure"},
        "SELECT count(*) FROM owner_pages_ownerrequest r JOIN book_owner o ON o.id = r.owner_id "
        "WHERE o.code = 'O00007'",
    ),
    of_an_owner(
        "no more letters",
        "owner_pages:stop_letters",
        4,
        "/o/stop/",
        lambda _site: {"List-Unsubscribe": "One-Click"},
        "SELECT count(*) FROM letters_answer a JOIN book_owner o ON o.id = a.owner_id WHERE o.code = 'O00004'",
    ),
]


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_a_form_sent_five_times_at_once_and_after_a_cut_line_is_one_deed(site: Site, form: Form) -> None:
    visitor = site.ida if "/o/" not in form.page(site) else Visitor(site.url)
    page = visitor.get(form.page(site))
    assert page.status == 200, page.text[:2000]
    key = {name: value for name, value in hidden_fields(page).items() if name in {"form_key", "seen"}}
    day = {"done_on": "2018-05-04"} if "kind" in form.fields(site) else {}
    fields = {**key, **form.fields(site), **day}
    before = site.number(form.made(site))
    visitor.post_and_leave(form.to(site), fields)
    answers = visitor.post_at_once(form.to(site), fields, 5)
    assert {answer.status for answer in answers} <= {200, 302}, [answer.text[:500] for answer in answers]
    assert len({(answer.status, answer.to) for answer in answers}) == 1
    assert site.number(form.made(site)) == before + 1


def test_two_people_at_the_desk_decide_about_one_letter_once(site: Site) -> None:
    letter = site.number("SELECT max(id) FROM letters_letter WHERE state = 'held'")
    site.house.write(f"UPDATE letters_letter SET state = 'in_doubt' WHERE id = {letter}")
    other = Visitor(site.url)
    other.sign_in("ida", PASSWORD)
    address = reverse("letters:settle_doubt", args=[letter])
    attempt = hidden_fields(site.ida.get(reverse("letters:letter", args=[letter])))["attempt"]

    def decide(visitor: Visitor, how: str) -> Callable[[], Page]:
        return lambda: visitor.post(address, {"how": how, "attempt": attempt})

    answers = all_at_once(
        [decide(who, how) for who in (site.ida, other) for how in ("sent_again", "taken_as_sent") for _tap in range(2)]
    )
    assert {answer.status for answer in answers} == {302}
    assert site.number(f"SELECT count(*) FROM access_trail WHERE subject = 'letter:{letter}'") == 1


def test_scanners_that_follow_every_link_change_nothing(site: Site) -> None:
    """GET, HEAD and OPTIONS of whatever stands in a letter, and of addresses made up beside it."""
    page, stop = owners_secret(site.letter_of(5), "/o/"), owners_secret(site.letter_of(5), "/o/stop/")
    # The secret that confirms an e-mail address stands in another mail.
    ours = [one for one in urlpatterns if takes(one) <= {"token"} and one.name != "confirm_email"]
    real = [address(one, stop if one.name == "stop_letters" else page) for one in ours]
    assert len(real) >= 10
    made_up = [address(one, token) for one in urlpatterns for token in ("x" * 43, page[:-1], stop + "x")]
    made_up.append(f"/o/{page}/nothing-of-the-sort/")
    # Behind a good secret, what is personal shows nothing but the button to it, whatever is there.
    beside = [address(one, page) for one in urlpatterns if takes(one) - {"token"}]
    before = site.everything()
    assert len(before["letters_letter"]) >= 30  # and word of a strap that was changed
    # The real ones first: a network that asks for what is not there is soon shown nothing at all.
    assert seen(site, real, times=10) <= {200, 302, 405}
    for link in beside:
        page_shown = Visitor(site.url).get(link)
        assert page_shown.status in {404, 405} or (page_shown.status == 200 and 'name="open"' in page_shown.text), link
    assert seen(site, beside, times=5) <= {200, 404, 405, 429}
    assert seen(site, made_up, times=5) <= {404, 405, 429}
    assert site.everything() == before


def takes(one: URLPattern) -> set[str]:
    """What stands in an address of an owner's page."""
    return set(one.pattern.converters)


def address(one: URLPattern, token: str) -> str:
    """Such an address; a thing that does not exist where it names one."""
    things = {name: value for name, value in {"pk": 1, "key": "none-such"}.items() if name in takes(one)}
    return reverse(f"owner_pages:{one.name}", kwargs={"token": token} | things)


def seen(site: Site, links: list[str], *, times: int) -> set[int]:
    """The statuses of the answers that a scanner got."""
    looks = [(link, method) for link in links for method in ("GET", "HEAD", "OPTIONS")] * times
    return {Visitor(site.url).get(link, method).status for link, method in looks}
