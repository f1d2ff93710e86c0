"""Which letter it is, by what its owner was written before, and what it says of time, guarantee and measurements."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from service_center.book.models import Owner, Piece
from service_center.book.rules import ServiceKind
from service_center.guarantee.rules import CoveredBy
from service_center.intake.rules.counter import Asked
from service_center.intake.rules.terms import FAULTS, USUAL_DAYS
from service_center.intake.terms.queries import USUAL
from service_center.intervals.rules import Evidence, EvidenceFact
from service_center.letters.composing import sentences
from service_center.letters.composing.sentences import case_of
from service_center.letters.composing.wording import wording_in
from service_center.letters.models import Letter, Reminder
from service_center.letters.queries.contents import contents_of
from service_center.letters.wording.examples import EXAMPLES
from service_center.measurements.rules import Wind
from tests.factories import OwnerFactory, PieceFactory, history
from tests.letters.conftest import NOW, recount, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
OVERHAUL, TIGHTNESS = ServiceKind.OVERHAUL, ServiceKind.TIGHTNESS
ENGLISH = wording_in("en")


@pytest.mark.parametrize(
    ("pieces", "asked", "case"),
    [
        (2, [(OVERHAUL, "invitation"), (OVERHAUL, "invitation")], "several.invitation"),
        (2, [(OVERHAUL, "nudge"), (TIGHTNESS, "nudge")], "several.nudge"),
        (2, [(OVERHAUL, "nudge"), (TIGHTNESS, "invitation")], "several.invitation"),
        (2, [(TIGHTNESS, "yearly"), (TIGHTNESS, "yearly")], "several.invitation"),
        (2, [(TIGHTNESS, "nudge"), (TIGHTNESS, "yearly")], "several.invitation"),
        (2, [(OVERHAUL, "last"), (OVERHAUL, "last")], "several.last"),
        (2, [(OVERHAUL, "last"), (OVERHAUL, "nudge")], "several.invitation"),
        (2, [(OVERHAUL, "last"), (TIGHTNESS, "yearly")], "several.invitation"),
        (0, [], "several.invitation"),
        (1, [(OVERHAUL, "last")], "overhaul.last"),
        (1, [(TIGHTNESS, "yearly")], "tightness.yearly"),
        (1, [(OVERHAUL, "nudge"), (TIGHTNESS, "invitation")], "overhaul.nudge"),
    ],
)
def test_which_letter_it_is(pieces: int, asked: list[tuple[ServiceKind, str]], case: str) -> None:
    assert case_of(pieces, asked) == case


def test_two_watches_bought_on_one_day_are_not_told_of_weeks_when_it_was_a_year(db: None, sink: MailSink) -> None:
    owner = OwnerFactory()
    for _ in range(2):
        piece = PieceFactory(owner=owner, sold_on=None, made_on=None)
        history(piece, "2025-01-19")
    recount("2025-12-19")
    for day in ("2025-12-19", "2026-01-30", "2027-01-19"):
        round_on(day)
        send(day)
        Letter.objects.filter(planned_on=day).update(sent_at=datetime.fromisoformat(f"{day}T09:00+00:00"))
    steps = Reminder.objects.order_by("pk").values_list("step", flat=True)
    assert list(steps) == ["invitation"] * 2 + ["nudge"] * 2 + ["yearly"] * 2
    first, second, yearly = (" ".join(mail.text.split()) for mail in sink.messages)
    assert "Watches of yours are due for their care" in first
    assert "We wrote to you about watches of yours." in second
    assert "Watches of yours are due for their care" in yearly


def goes_out(day: str) -> None:
    assert round_on(day).letters == 1
    assert send(day).sent == 1
    Letter.objects.filter(planned_on=day).update(sent_at=datetime.fromisoformat(f"{day}T09:00+00:00"))


def hands_over_to(owner: Owner) -> None:
    Piece.objects.update(owner=owner)


def test_whoever_bought_the_piece_after_the_invitation_is_written_to_for_the_first_time(
    due_piece: Make, sink: MailSink
) -> None:
    due_piece()
    goes_out("2026-03-18")
    hands_over_to(OwnerFactory())
    goes_out("2026-04-29")
    assert Reminder.objects.latest("pk").step == "nudge"
    text = " ".join(sink.messages[1].text.split())
    assert "A watch of yours is due for its care" in text
    assert "We wrote to you" not in text


def test_a_first_letter_is_never_called_the_last(due_piece: Make, sink: MailSink) -> None:
    """84 months after 17 May 2019 it is due, after 96 it closes: the last letter goes to a buyer."""
    due_piece()
    goes_out("2026-03-18")
    goes_out("2026-04-29")
    hands_over_to(OwnerFactory())
    goes_out("2027-05-17")
    assert Reminder.objects.latest("pk").step == "last"
    last = sink.messages[2]
    assert last.subject == "Your Skerry: time for an overhaul"
    assert "A watch of yours is due for its care" in " ".join(last.text.split())


def test_the_seller_s_letters_read_as_they_went_out_and_a_buyer_who_had_one_is_reminded_of_it(
    due_piece: Make, sink: MailSink
) -> None:
    due_piece()
    goes_out("2026-03-18")
    hands_over_to(OwnerFactory())
    goes_out("2026-04-29")
    goes_out("2027-05-17")
    letters = list(Letter.objects.select_related("owner").order_by("pk"))
    told = contents_of(letters, now=datetime(2027, 6, 1, tzinfo=UTC))
    assert [told[one.pk].case for one in letters] == ["overhaul.invitation", "overhaul.invitation", "overhaul.last"]
    assert "our last letter" in sink.messages[2].subject


def test_who_had_letters_before_is_read_in_one_statement_however_many(
    due_piece: Make, sink: MailSink, django_assert_max_num_queries: Any
) -> None:
    for _ in range(9):
        due_piece()
    round_on("2026-03-18")
    send("2026-03-18")
    Letter.objects.update(sent_at=datetime(2026, 3, 18, 9, tzinfo=UTC))
    round_on("2026-04-29")
    letters = list(Letter.objects.filter(state="waiting").select_related("owner"))
    assert len(letters) == 9
    with django_assert_max_num_queries(11):
        contents_of(letters[:2], now=NOW)
    with django_assert_max_num_queries(11):
        told = contents_of(letters, now=NOW)
    assert {one.case for one in told.values()} == {"overhaul.nudge"}


@pytest.mark.parametrize("language", ["en", "fr", "de", "it", "es", "ja"])
def test_a_trend_whose_day_lies_behind_is_told_as_past(language: str) -> None:
    day = date(2026, 5, 17)
    plain = EXAMPLES["sale"].due(OVERHAUL, date(2026, 3, 1))
    due = replace(plain, due_on=day, evidence=Evidence(EvidenceFact.TREND, day, Wind.FULL, limit=220.0))
    wording = wording_in(language)
    ahead, past = (sentences.why(wording, due, date(2026, 5, on), "Skerry") for on in (16, 17))
    assert ahead != past
    if language == "en":
        assert "we recommend an overhaul by 17 May 2026." in ahead
        assert "we recommended an overhaul by 17 May 2026." in past


def test_the_letter_names_the_days_that_the_counter_promises() -> None:
    """Working days there, and weeks of five of them in a letter."""
    counter = {complexity: days * 7 // 5 for complexity, days in USUAL_DAYS[Asked.OVERHAUL].items()}
    assert counter == sentences.OVERHAUL_DAYS
    assert set(USUAL_DAYS[Asked.CHECK].values()) == {sentences.TIGHTNESS_DAYS * 5 // 7}
    assert sentences.UNKNOWN_CALIBRE is USUAL


@pytest.mark.parametrize(
    ("complexity", "days"), [("simple", 28), ("automatic", 35), ("chronograph", 49), ("complicated", 84), ("", 35)]
)
def test_an_overhaul_takes_the_longer_the_more_complex_the_calibre(
    due_piece: Make, sink: MailSink, complexity: str, days: int
) -> None:
    due_piece(model__calibre__complexity=complexity)
    round_on("2026-03-18")
    send("2026-03-18")
    [mail] = sink.messages
    assert f"The overhaul takes about {days} days" in " ".join(mail.text.split())


def test_a_piece_whose_model_is_not_known_takes_the_usual_time(due_piece: Make, sink: MailSink) -> None:
    due_piece(model=None)
    round_on("2026-03-18")
    send("2026-03-18")
    assert "The overhaul takes about 35 days" in " ".join(sink.messages[0].text.split())


@pytest.mark.parametrize("by", [CoveredBy.BASE, CoveredBy.EXTENSION, CoveredBy.WORK])
def test_the_check_is_part_of_every_guarantee_and_the_overhaul_of_none_as_at_the_counter(by: CoveredBy) -> None:
    assert (Asked.CHECK in FAULTS, Asked.OVERHAUL in FAULTS) == (True, False)
    until = date(2026, 4, 10)
    assert sentences.guarantee_runs(ENGLISH, until, by, [TIGHTNESS]) == (
        "Until 10 April 2026 the check is part of the guarantee."
    )
    for kinds in ([OVERHAUL], [OVERHAUL, TIGHTNESS]):
        assert "care that falls due is not part of it" in sentences.guarantee_runs(ENGLISH, until, by, kinds)


def test_a_letter_that_asks_for_the_check_alone_says_that_it_is_covered(db: None, sink: MailSink) -> None:
    piece = PieceFactory(sold_on=None, made_on=None)
    history(piece, "2025-03-02")
    recount("2026-02-02")
    round_on("2026-02-02")
    send("2026-02-02")
    text = " ".join(sink.messages[0].text.split())
    assert "Tightness check" in text
    assert "the check is part of the guarantee." in text
    assert "not part of it" not in text
