"""The house writes the words of its letters: saving, looking, trying on oneself, going back, and a new release."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse

from service_center.access.models import Staff, Trail
from service_center.book.models import Piece
from service_center.letters import actions
from service_center.letters.composing import texts
from service_center.letters.composing.texts import our_text
from service_center.letters.models import HouseText, KeptWording, Letter, OwnerLink, Reminder
from service_center.letters.queries import wording as queries
from tests.factories import OwnerFactory, PieceFactory, StaffFactory
from tests.letters.conftest import NOW, only_letter, round_on, send
from tests.letters.sink import MailSink

SignIn = Callable[..., Client]
Make = Callable[..., Piece]
GROUP = reverse("letters:wording_group", args=["en", "overhaul-invitation"])
SUBJECT, OPENING = "overhaul.invitation.subject", "overhaul.invitation.opening"


def written(**texts: str) -> dict[str, str]:
    """The form of the overhaul's first letter, as the browser sends it."""
    ours = {SUBJECT: our_text(SUBJECT, "en"), OPENING: our_text(OPENING, "en")}
    latest = queries.latest_texts("en")
    seen = {f"seen-{code}": str(latest[code].pk if code in latest else 0) for code in ours}
    return ours | seen | {f"overhaul.invitation.{name}": text for name, text in texts.items()}


def save(language: str, code: str, text: str, by: Staff | None = None) -> None:
    latest = queries.latest_texts(language)
    seen = {code: latest[code].pk if code in latest else 0}
    actions.save_texts(language, {code: text}, seen=seen, by=by or StaffFactory(), now=NOW)


def test_the_desk_writes_its_own_subject_and_the_next_letter_has_it(
    due_piece: Make, sink: MailSink, signed_in: SignIn
) -> None:
    due_piece()
    signed_in("desk").post(GROUP, written(subject="{owner}, your {piece} would like to see us"))
    round_on("2026-03-18")
    send("2026-03-18")
    assert re.fullmatch(r"Ada Winter \d+, your Skerry would like to see us", sink.messages[0].subject)
    trail = Trail.objects.get(subject=f"wording:en:{SUBJECT}")
    assert trail.before == {"text": "Your {piece}: time for an overhaul"}
    assert trail.after == {"text": "{owner}, your {piece} would like to see us", "ours": False}


def test_only_what_was_changed_becomes_the_houses_own(signed_in: SignIn) -> None:
    signed_in("desk").post(GROUP, written(opening="Good day from our benches.\r\n\r\nIt is time."))
    assert [(row.code, row.text) for row in HouseText.objects.all()] == [
        (OPENING, "Good day from our benches.\n\nIt is time.")
    ]


@pytest.mark.parametrize(
    ("subject", "reason"),
    [
        ("", "This text is empty"),
        ("Your {watch}", "“{watch}” is not known here"),
        ("Your {piece", "A “{” is not closed"),
        ("Your piece}", "A “}” closes nothing"),
        ("Your {{ piece.owner.email }}", None),
        ("Your\nBcc: eve@owners.example", "must be a single line"),
        ("x" * 151, "at most 150 characters"),
    ],
)
def test_a_text_that_does_not_render_is_refused_with_the_reason_and_nothing_is_lost(
    signed_in: SignIn, subject: str, reason: str | None
) -> None:
    page = signed_in("desk").post(GROUP, written(subject=subject, opening="Words that took long to find."))
    text = page.content.decode()
    if reason is None:  # braces written twice are braces: nothing of it is carried out
        assert HouseText.objects.get(code=SUBJECT).text == subject
        return
    assert reason in text
    assert "Words that took long to find." in text
    assert subject.replace("\n", "\r\n") in text or subject in text
    assert not HouseText.objects.exists()


def test_of_two_people_who_write_at_once_the_second_reads_the_first_and_decides(signed_in: SignIn) -> None:
    client, form = signed_in("desk"), written(subject="Mine about {piece}")
    save("en", SUBJECT, "Theirs about {piece}", by=StaffFactory(first_name="Ida"))
    page = client.post(GROUP, form)
    text = page.content.decode()
    assert "Ida saved another text meanwhile: “Theirs about {piece}”" in text
    assert "Mine about {piece}" in text
    assert queries.latest_texts("en")[SUBJECT].text == "Theirs about {piece}"
    [seen] = re.findall(rf'name="seen-{re.escape(SUBJECT)}" value="(\d+)"', text)
    client.post(GROUP, form | {f"seen-{SUBJECT}": seen})
    assert queries.latest_texts("en")[SUBJECT].text == "Mine about {piece}"


def test_going_back_to_our_text_takes_one_step_and_keeps_what_was_written(signed_in: SignIn) -> None:
    client = signed_in("manager")
    save("en", SUBJECT, "The first about {piece}")
    save("en", SUBJECT, "The second about {piece}")
    seen = queries.latest_texts("en")[SUBJECT].pk
    client.post(reverse("letters:wording_back", args=["en", SUBJECT]), {"seen": seen})
    page = client.get(reverse("letters:wording_text", args=["en", SUBJECT])).content.decode()
    assert [page.index(one) for one in ("Took our text again", "The second about", "The first about")] == sorted(
        page.index(one) for one in ("Took our text again", "The second about", "The first about")
    )
    assert queries.wordings_now(["en"])["en"].texts[SUBJECT] == our_text(SUBJECT, "en")


def test_what_the_house_wrote_survives_a_release_in_which_ours_is_another(
    signed_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    save("en", SUBJECT, "Ours for years: {piece}")
    client = signed_in("desk")
    overview = reverse("letters:wording")
    assert "Our text has changed" not in client.get(overview).content.decode()

    def in_the_next_release(code: str, language: str) -> str:
        return "Your {piece} is waiting" if code == SUBJECT else our_text(code, language)

    for module in (texts, queries):
        monkeypatch.setattr(module, "our_text", in_the_next_release)
    assert queries.wordings_now(["en"])["en"].texts[SUBJECT] == "Ours for years: {piece}"
    assert "Our text has changed since you wrote yours" in client.get(overview).content.decode()
    told = client.get(reverse("letters:wording_text", args=["en", SUBJECT])).content.decode()
    assert "It has changed since you wrote yours. It was then:" in told
    assert "Your {piece}: time for an overhaul" in told


def test_a_text_that_the_next_release_knows_no_longer_gives_way_to_ours(db: None) -> None:
    by = StaffFactory()
    for code, text in ((SUBJECT, "Your {oldname}"), ("gone.subject", "Words")):
        HouseText.objects.create(language="en", code=code, text=text, ours="…", saved_at=NOW, saved_by=by)
    assert queries.wordings_now(["en"])["en"].texts[SUBJECT] == our_text(SUBJECT, "en")


def test_a_letter_that_was_sent_is_shown_as_it_was_sent(due_piece: Make, sink: MailSink, signed_in: SignIn) -> None:
    due_piece()
    save("en", SUBJECT, "As it was: {piece}")
    round_on("2026-03-18")
    send("2026-03-18")
    save("en", SUBJECT, "As it is today: {piece}")
    page = signed_in("desk").get(reverse("letters:letter", args=[only_letter().pk])).content.decode()
    assert "As it was: Skerry" in page
    assert "As it is today" not in page


def test_the_owners_page_tells_what_the_letter_told(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    save("en", "takes.overhaul", "Allow us {days} days, please.")
    round_on("2026-03-18")
    send("2026-03-18")
    save("en", "takes.overhaul", "It takes {days} days today.")
    [link] = [line for line in sink.messages[0].text.splitlines() if "/o/" in line and "/stop/" not in line]
    page = Client().get(link.removeprefix("http://127.0.0.1:8000")).content.decode()
    assert "Allow us 35 days, please." in page
    assert "days today" not in page


def test_a_letter_that_waits_is_shown_as_it_would_go(due_piece: Make, signed_in: SignIn) -> None:
    due_piece()
    round_on("2026-03-18")
    save("en", SUBJECT, "As it is today: {piece}")
    page = signed_in("desk").get(reverse("letters:letter", args=[only_letter().pk])).content.decode()
    assert "As it is today: Skerry" in page


def test_letters_of_one_wording_keep_it_once(due_piece: Make, sink: MailSink) -> None:
    for language in ("en", "en", "fr", "tlh"):
        due_piece(owner=OwnerFactory(language=language))
    round_on("2026-03-18")
    assert send("2026-03-18").sent == 4
    assert sorted(KeptWording.objects.values_list("language", flat=True)) == ["en", "fr"]


def test_a_second_copy_says_what_the_first_one_said(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    sink.fail("after", "drop")
    send()
    save("en", SUBJECT, "Other words: {piece}")
    Letter.objects.update(state="waiting")
    assert send().sent == 1
    first, second = sink.messages
    assert first.subject == second.subject


def test_the_preview_shows_a_piece_of_the_book_in_words_that_nobody_has_saved(signed_in: SignIn) -> None:
    piece = PieceFactory(owner=OwnerFactory(name="Marit Solheim"))
    look = reverse("letters:wording_preview", args=["en", "overhaul-invitation"])
    page = signed_in("desk").post(look, written(opening="{owner}, we miss your {piece}.") | {"serial": piece.serial})
    html = page.content.decode()
    assert "Marit Solheim, we miss your Skerry." in html
    assert piece.serial in html
    assert page.headers["Content-Security-Policy"].endswith("sandbox")
    assert not HouseText.objects.exists()


def test_the_preview_shows_plain_text_in_its_language_and_opens_nothing(signed_in: SignIn) -> None:
    look = reverse("letters:wording_preview", args=["ja", "tightness-nudge"])
    data = {code: our_text(code, "ja") for code in ("tightness.nudge.subject", "tightness.nudge.opening")}
    text = signed_in("desk").post(look, data | {"as": "text", "example": "failed"}).content.decode()
    assert "基準に達しませんでした" in text
    assert "•" * 12 in text


@pytest.mark.parametrize(
    ("serial", "trouble"), [("FH00-404040", "The book holds no piece"), ("undated", "nothing of the kind falls due")]
)
def test_the_preview_says_why_there_is_nothing_to_see(signed_in: SignIn, serial: str, trouble: str) -> None:
    PieceFactory(serial="undated", sold_on=None, made_on=None)
    look = reverse("letters:wording_preview", args=["en", "overhaul-invitation"])
    assert trouble in signed_in("desk").post(look, written() | {"serial": serial}).content.decode()


def test_a_test_letter_goes_to_whoever_is_signed_in_and_leaves_no_letter_behind(
    signed_in: SignIn, sink: MailSink
) -> None:
    client = signed_in("desk")
    Staff.objects.update(email="tove@fernhollow.example")
    page = client.post(GROUP, written(subject="Not saved yet: {piece}") | {"do": "test"})
    assert "A test went to tove@fernhollow.example." in page.content.decode()
    [mail] = sink.messages
    assert (mail.recipients, mail.subject) == (("tove@fernhollow.example",), "[Test] Not saved yet: Skerry")
    assert mail.parsed["List-Unsubscribe"] is None
    assert not re.search(r"/o/(?!•|stop/•|&#|%)", mail.text + mail.html)
    assert not (Letter.objects.exists() or Reminder.objects.exists() or OwnerLink.objects.exists())
    assert not HouseText.objects.exists()


def test_a_test_letter_that_does_not_go_says_why_and_loses_nothing(signed_in: SignIn, sink: MailSink) -> None:
    client = signed_in("desk")
    form = written(subject="Still here: {piece}") | {"do": "test"}
    assert "Your account has no e-mail address" in client.post(GROUP, form).content.decode()
    Staff.objects.update(email="tove@fernhollow.example")
    sink.fail("rcpt", "550 5.1.1 no such mailbox")
    page = client.post(GROUP, form).content.decode()
    assert "The mail server did not take it: 550 5.1.1 no such mailbox" in page
    assert "Still here: {piece}" in page


def test_without_a_mail_server_no_test_goes(signed_in: SignIn, settings: Any) -> None:
    settings.MAIL_CONFIGURED = False
    client = signed_in("desk")
    Staff.objects.update(email="tove@fernhollow.example")
    assert "no mail server yet" in client.post(GROUP, written() | {"do": "test"}).content.decode()


@pytest.mark.parametrize("role", ["boutique", "watchmaker"])
def test_others_do_not_write_letters(signed_in: SignIn, role: str) -> None:
    assert signed_in(role).post(GROUP, written(subject="Mine: {piece}")).status_code == 403
    assert not HouseText.objects.exists()


def test_what_was_saved_can_neither_be_changed_nor_deleted(db: None) -> None:
    save("en", SUBJECT, "Kept: {piece}")
    for deed in (lambda: HouseText.objects.update(text="changed"), lambda: HouseText.objects.all().delete()):
        with pytest.raises(DatabaseError, match="holds facts"), transaction.atomic():
            deed()


def test_every_page_stays_in_the_language_that_is_written(signed_in: SignIn) -> None:
    client = signed_in("desk")
    for page in (
        reverse("letters:wording_in", args=["fr"]),
        reverse("letters:wording_group", args=["fr", "around"]),
        reverse("letters:wording_text", args=["fr", "frame.closing"]),
    ):
        text = client.get(page).content.decode()
        within = re.findall(r'(?:href|action|src)="/letters/wording/(\w+)/[^"]+"', text)
        assert within
        assert set(within) == {"fr"}, page


def test_an_old_page_takes_away_no_text_that_a_colleague_saved_meanwhile(signed_in: SignIn) -> None:
    client, address = signed_in("desk"), reverse("letters:wording_text", args=["en", SUBJECT])
    save("en", SUBJECT, "The first about {piece}")
    [seen] = re.findall(r'name="seen" value="(\d+)"', client.get(address).content.decode())
    save("en", SUBJECT, "Theirs about {piece}", by=StaffFactory(first_name="Ida"))
    back = reverse("letters:wording_back", args=["en", SUBJECT])
    for said in ({"seen": seen}, {}, {"seen": "x"}):
        told = client.post(back, said, follow=True).content.decode()
        assert "Nothing was changed: somebody saved another text meanwhile. It stands below." in told
        assert queries.latest_texts("en")[SUBJECT].text == "Theirs about {piece}"
    [seen] = re.findall(r'name="seen" value="(\d+)"', client.get(address).content.decode())
    told = client.post(back, {"seen": seen}, follow=True).content.decode()
    assert "Our text stands again." in told
    assert "It is our text already." in client.post(back, {"seen": seen}, follow=True).content.decode()


def test_of_two_presses_at_once_one_takes_our_text_again(signed_in: SignIn, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both had read the text before either of them wrote: the second one writes after a reading that is over."""
    client = signed_in("desk")
    save("en", SUBJECT, "The first about {piece}")
    read_before = queries.latest_texts("en")
    back = reverse("letters:wording_back", args=["en", SUBJECT])
    seen = {"seen": str(read_before[SUBJECT].pk)}
    client.post(back, seen)
    readings = [read_before]
    monkeypatch.setattr(
        "service_center.letters.actions.wording.latest_texts",
        lambda language: readings.pop() if readings else queries.latest_texts(language),
    )
    assert "It is our text already." in client.post(back, seen, follow=True).content.decode()
    assert not readings
    assert HouseText.objects.count() == 2


@pytest.mark.parametrize(
    ("letter", "said"), [("visit.booked", True), ("receipt", True), ("overhaul.invitation", False)]
)
def test_of_a_test_that_tells_of_something_attached_it_is_said_that_nothing_is(
    signed_in: SignIn, sink: MailSink, letter: str, said: bool
) -> None:
    client = signed_in("desk")
    Staff.objects.update(email="tove@fernhollow.example")
    page = client.post(GROUP, written() | {"do": "test", "letter": letter, "example": "sale"}).content.decode()
    assert "A test went to tove@fernhollow.example." in page
    assert ("is not in a test" in page) is said
    [mail] = sink.messages
    assert not list(mail.parsed.iter_attachments())
