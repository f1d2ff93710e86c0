"""The main job, end to end, by clicking: a book comes in as files, the owner gets one letter and answers it, the piece
is taken in with its first readings and a receipt, goes through the workshop with an estimate that its owner agrees to,
and the finished service begins a new interval.

Real processes, real database, real broker, real mail over SMTP; once on one machine, once as on servers.
"""

import io
import re
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import holidays
import pypdf
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.houses import PASSWORD, House, on_one_machine, on_servers
from tests.letters.sink import Received

pytestmark = [pytest.mark.browser, pytest.mark.servers]
SERIAL = "FH21-000123"
# The sweep comes every half minute, on one machine without a ring from the command's process.
A_SWEEP = 60
Start = Callable[[Path], AbstractContextManager[House]]


@pytest.fixture(params=[on_one_machine, on_servers], ids=["one machine", "servers"])
def house(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[House]:
    start: Start = request.param
    with start(tmp_path / "data") as running:
        people = (("dora", "desk", ()), ("walt", "watchmaker", ()), ("carl", "boutique", ("--boutique", "HAR")))
        for name, role, more in people:
            running.command("make_staff", name, "--role", role, *more, typed=PASSWORD + "\n")
        yield running


@pytest.fixture
def browser_of(chromium: Browser, house: House) -> Iterator[Callable[[str], Page]]:
    """A browser of its own for each person; staff sign in."""
    opened: list[BrowserContext] = []

    def open_one(name: str = "") -> Page:
        context = chromium.new_context(base_url=house.url, viewport={"width": 1280, "height": 1000})
        opened.append(context)
        page = context.new_page()
        if name:
            page.goto("/")
            page.get_by_label("Username").fill(name)
            page.get_by_label("Password").fill(PASSWORD)
            page.get_by_role("main").get_by_role("button", name="Sign in").click()
            page.get_by_role("heading", name="Today").wait_for()
        return page

    yield open_one
    for context in opened:
        context.close()


def this_day() -> date:
    """Today as the house has it: UTC, its time zone where none is set."""
    return datetime.now(UTC).date()


def years_before(day: date, years: int) -> date:
    return day.replace(year=day.year - years, day=min(day.day, 28))


def book_files(folder: Path) -> list[Path]:
    """A maker's book of one piece, whose overhaul is due since some days: sold seven years ago (84 months)."""
    today = this_day()
    sold = years_before(today, 7) - timedelta(days=9)
    rows = {
        "calibres.csv": "calibre,winding,beats_per_hour,lift_angle_deg,power_reserve_h,complexity\n"
        "FH-21,automatic,28800,52,48,automatic\n",
        "models.csv": "reference,name,calibre,rated_bar,divers,case_material\nSK-2101,Skerry,FH-21,30,yes,steel\n",
        "boutiques.csv": "boutique,name,country,time_zone\nHAR,Harrowmere,GB,Europe/London\n",
        "owners.csv": "owner,name,email,phone,language,country,time_zone,letters\n"
        "O00001,Ada Winter,ada.winter@owners.example,+44 20 7946 0123,en,GB,Europe/London,yes\n",
        "pieces.csv": "serial,reference,owner,boutique,made_on,sold_on,use,extension_enrolled_on,status\n"
        f"{SERIAL},SK-2101,O00001,HAR,{sold - timedelta(days=90)},{sold},everyday,,in_use\n",
    }
    folder.mkdir()
    for name, text in rows.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [folder / name for name in rows]


def last_working_day() -> date:
    """Of Great Britain, before today: its morning is over everywhere, so that the letter may leave at once."""
    free = holidays.country_holidays("GB")
    day = this_day() - timedelta(days=1)
    while day.weekday() > 4 or day in free:
        day -= timedelta(days=1)
    return day


def mails(house: House, count: int) -> list[Received]:
    """All that went out, once so many have arrived; more than so many fail."""
    until = time.monotonic() + A_SWEEP
    while len(house.sink.messages) < count and time.monotonic() < until:
        time.sleep(0.2)
    assert len(house.sink.messages) == count
    return list(house.sink.messages)


def only_letter(house: House) -> str:
    """The plain text of the one letter, once it has arrived."""
    (letter,) = mails(house, 1)
    assert letter.recipients == ("ada.winter@owners.example",)
    return letter.text


def order_of(page: Page, number: str) -> None:
    """The page of an order, by the number on its receipt."""
    page.goto("/")
    page.get_by_role("search").first.get_by_role("searchbox").fill(number)
    page.keyboard.press("Enter")
    page.get_by_role("heading", name=number).wait_for()


def agree(owner: Page, house: House) -> None:
    """The owner agrees to the estimate that the third mail brought."""
    link = re.search(rf"{re.escape(house.url)}/o/\S+", mails(house, 3)[-1].text)
    assert link
    owner.goto(link[0])
    owner.get_by_role("button", name="Agree:").click()
    expect(owner.get_by_role("heading", name="Thank you")).to_be_visible()


AT_THE_CONTROL = {"Tightness tests", "Final control"}


def work(bench: Page, number: str) -> None:
    """Every operation, each finished with its minutes: those of the control once the piece is there."""
    order_of(bench, number)
    bench.get_by_role("button", name="Take it to my bench").click()
    expect(bench.get_by_role("heading", name="On the bench", exact=True)).to_be_visible()
    options = bench.get_by_label("Finished", exact=True).locator("option")
    expect(options).to_have_count(10)  # the diagnosis was finished by whoever looked at the piece
    for operation in [one for one in options.all_text_contents() if one not in AT_THE_CONTROL]:
        finish(bench, operation)
    bench.get_by_role("button", name="To the control").click()
    expect(bench.get_by_role("heading", name="Under control", exact=True)).to_be_visible()
    for operation in sorted(AT_THE_CONTROL):
        finish(bench, operation)


def finish(bench: Page, operation: str) -> None:
    bench.locator("summary", has_text="An operation is finished").click()
    bench.get_by_label("Finished", exact=True).select_option(operation)
    bench.get_by_label("Minutes it took").fill("20")
    bench.get_by_role("button", name="Finished").click()
    done = re.compile(rf"^{operation} \d+ min 20 min Finished")
    expect(bench.get_by_role("row", name=done)).to_be_visible()  # on the page that comes after


def measure(bench: Page) -> None:
    """What was read at the counter is read again, and every test of tightness is passed."""
    expect(bench.get_by_role("main")).to_contain_text("no readings since the work began")
    expect(bench.get_by_role("main")).to_contain_text("not tested for tightness since its case was open")
    here = bench.url
    bench.get_by_role("link", name="Read a sheet").click()
    for name, value in {"full-CH-rate": "3.0", "full-CH-amplitude": "285", "full-CH-beat_error": "0.2"}.items():
        bench.locator(f"[name='{name}']").fill(value)
    bench.get_by_role("button", name="Keep the sheet").click()
    bench.get_by_role("heading", name="Timing sheet of").wait_for()
    bench.goto(here)
    bench.get_by_role("link", name="Test tightness").click()
    bench.get_by_role("button", name="Begin the tests").click()
    keep = bench.get_by_role("button", name="Keep the result")
    expect(keep).to_be_visible()
    while keep.count():
        bench.get_by_label("Passed").check()
        with bench.expect_navigation():  # until the next page is there whole
            keep.click()
    expect(bench.get_by_text("It passed every test")).to_be_visible()


def test_from_the_book_to_the_receipt_and_a_new_interval(
    house: House, browser_of: Callable[..., Page], tmp_path: Path
) -> None:
    desk = browser_of("dora")
    desk.get_by_role("link", name="House", exact=True).click()
    desk.get_by_role("link", name="The book's files", exact=True).click()
    desk.get_by_label("CSV files of the book").set_input_files(book_files(tmp_path / "book"))
    desk.get_by_role("button", name="See what would change").click()
    desk.get_by_role("button", name="Write into the book").click()
    expect(desk.get_by_text("The files are written into the book.")).to_be_visible()

    day = last_working_day()
    first = house.command("daily_round", "--as-of", day.isoformat(), "--json")
    again = house.command("daily_round", "--as-of", day.isoformat(), "--json")
    assert (first["letters"], again["letters"], again["reminders"]) == (1, 0, 0)

    text = only_letter(house)
    assert SERIAL in text
    link = re.search(rf"{re.escape(house.url)}/o/(?!stop/)\S+", text)
    assert link
    owner = browser_of()
    owner.goto(link[0])
    expect(owner.get_by_role("main")).to_contain_text(SERIAL)
    owner.get_by_role("button", name="Book this visit").click()
    expect(owner.get_by_role("heading", name="Thank you")).to_be_visible()

    counter = browser_of("carl")
    counter.get_by_role("link", name="Take in", exact=True).click()
    expect(counter.locator("#counter-search")).to_be_focused()  # a scanner is picked up once the page is there
    counter.keyboard.type(f"{SERIAL}\n")
    counter.get_by_role("main").get_by_role("button", name="Take in").first.click()
    counter.get_by_label("Overhaul").check()
    counter.get_by_label("What the owner says").fill("It stops at night.")
    counter.get_by_role("button", name="Next").last.click()
    counter.get_by_label("As worn, no marks to note").check()
    counter.get_by_role("button", name="Next").last.click()
    for name, value in {"full-CH-rate": "-3.5", "full-CH-amplitude": "262", "full-CH-beat_error": "0.4"}.items():
        counter.locator(f"[name='{name}']").fill(value)
    counter.get_by_role("button", name="Next").last.click()
    counter.get_by_role("heading", name="When it is ready").wait_for()
    counter.get_by_role("button", name="Next").last.click()
    counter.get_by_text("Without signing on the glass").click()
    counter.get_by_label("The owner has read the text above").check()
    counter.get_by_role("button", name="Take in").last.click()
    expect(counter.get_by_role("heading", name=re.compile("Taken in: R-"))).to_be_visible()
    expect(counter.get_by_role("table", name="Readings")).to_contain_text("262")
    receipt = counter.get_by_role("link", name="Receipt (PDF)").get_attribute("href") or ""
    (tmp_path / "receipt.pdf").write_bytes(counter.request.get(receipt).body())
    printed = "".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "receipt.pdf").pages)
    assert SERIAL in printed
    assert "Ada Winter" in printed

    held = house.command("list_due", "--as-of", this_day().isoformat(), "--serial", SERIAL, "--json")
    assert {one["state"] for one in held} == {"held"}

    number = (counter.get_by_role("heading", name="Taken in: R-").inner_text()).split()[-1]
    bench = browser_of("walt")
    order_of(bench, number)
    bench.get_by_role("button", name="Received at the workshop").click()
    bench.get_by_label("Yes: they get an estimate").check()
    bench.get_by_role("button", name="Looked at").click()
    order_of(desk, number)
    desk.get_by_role("link", name="Write the estimate").click()
    desk.get_by_label("Price, line 1").fill("480")
    desk.get_by_role("button", name="Write it, and ask the owner").click()
    expect(desk.get_by_role("main")).to_contain_text("a letter takes it to the owner")
    agree(owner, house)

    work(bench, number)
    measure(bench)
    order_of(bench, number)
    bench.get_by_role("button", name="It is ready").click()
    expect(bench.get_by_role("heading", name="Ready", exact=True)).to_be_visible()
    order_of(counter, number)
    counter.get_by_role("button", name="It is back at the boutique").click()
    assert "is ready" in mails(house, 4)[-1].subject
    counter.get_by_role("button", name="Hand it back").click()
    expect(counter.get_by_role("heading", name="Handed back on")).to_be_visible()

    anew = house.command("list_due", "--as-of", this_day().isoformat(), "--serial", SERIAL, "--json")
    assert {(one["kind"], one["state"], one["starts_on"]) for one in anew} == {
        ("overhaul", "not_yet", this_day().isoformat()),
        ("tightness", "not_yet", this_day().isoformat()),
    }
    assert house.command("list_letters", "--state", "waiting", "--json") == []
    receipt_mail, estimate_mail = mails(house, 4)[1:3]
    assert "estimate" in estimate_mail.subject
    (file,) = [part for part in receipt_mail.parsed.iter_attachments() if part.get_content_type() == "application/pdf"]
    assert SERIAL in "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(file.get_content())).pages)
