"""Once: in any order of rounds, with any number of rounds and senders at one time."""

import threading
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from django.db import connection
from django.db.models import Count
from django.test import override_settings
from hypothesis import example, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from service_center.book.models import Piece
from service_center.letters.actions import daily_round, send_waiting
from service_center.letters.models import Letter, Reminder
from service_center.letters.rules.unusual import Asked
from service_center.letters.rules.words import LetterState
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, WatchModelFactory
from tests.letters.conftest import NOW
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
FIRST = date(2026, 1, 5)


class InAnyOrderOfRounds(TestCase):
    """Rounds for random days of a year, forth and back and repeated, with the post going out or not in between."""

    @classmethod
    def setUpClass(cls) -> None:
        super().setUpClass()
        cls.sink = MailSink().start()

    @classmethod
    def tearDownClass(cls) -> None:
        cls.sink.stop()
        super().tearDownClass()

    @settings(max_examples=15)
    @example(
        sold=[
            (0, date(2018, 8, 25), True), (0, date(2019, 11, 3), True), (0, date(2019, 9, 16), False),
            (0, date(2019, 8, 29), False), (0, date(2019, 12, 8), True), (0, date(2020, 2, 16), True),
        ],
        deeds=[
            (243, False), (96, False), (293, True), (248, True), (221, True), (29, False), (336, False), (296, False),
        ],
    )  # fmt: skip
    @given(
        sold=st.lists(
            st.tuples(st.integers(0, 2), st.dates(date(2018, 6, 1), date(2020, 3, 1)), st.booleans()),
            min_size=1,
            max_size=6,
        ),
        deeds=st.lists(st.tuples(st.integers(0, 400), st.booleans()), min_size=2, max_size=12),
    )
    def test_no_reminder_goes_out_twice_and_no_two_letters_within_28_days(
        self, sold: list[tuple[int, date, bool]], deeds: list[tuple[int, bool]]
    ) -> None:
        self.sink.clear()
        boutique = BoutiqueFactory()
        owners = [OwnerFactory() for _number in range(3)]
        rated, plain = WatchModelFactory(), WatchModelFactory(rated_bar=None)
        for owner, day, is_rated in sold:
            PieceFactory(
                owner=owners[owner], boutique=boutique, sold_on=day, made_on=None, model=rated if is_rated else plain
            )
        with override_settings(
            MAIL_CONFIGURED=True, EMAIL_HOST=self.sink.host, EMAIL_PORT=self.sink.port, EMAIL_TIMEOUT=5
        ):
            taken_up: dict[int, date] = {}
            for offset, post_goes_out in deeds:
                day = FIRST + timedelta(days=offset)
                daily_round(as_of=day, now=NOW, asked=Asked.CONFIRMED)
                taken_up |= dict.fromkeys(Reminder.objects.exclude(pk__in=taken_up).values_list("pk", flat=True), day)
                assert daily_round(as_of=day, now=NOW, asked=Asked.CONFIRMED).reminders == 0
                if post_goes_out:
                    send_waiting(now=NOW, as_of=FIRST + timedelta(days=500), until_empty=True)
        keys = Counter(Reminder.objects.values_list("piece", "kind", "starts_on", "step"))
        assert set(keys.values()) <= {1}
        sent = Counter(mail.message_id for mail in self.sink.messages)
        assert set(sent.values()) <= {1}
        assert len(sent) == Letter.objects.filter(state=LetterState.SENT).count()
        for owner in owners:
            days = sorted(Letter.objects.filter(owner=owner).values_list("planned_on", flat=True))
            assert all((later - earlier).days >= 28 for earlier, later in pairwise(days))
        for reminder in Reminder.objects.filter(kind="overhaul", step="nudge").select_related("letter"):
            first = Reminder.objects.get(piece=reminder.piece, kind="overhaul", step="invitation").letter
            # It may travel in a letter that waits since a round for an earlier day: what counts is its own round's day.
            assert (max(taken_up[reminder.pk], reminder.letter.planned_on) - first.planned_on).days >= 28


def at_once(*deeds: Callable[[], object]) -> list[BaseException]:
    """Run these in threads that start together; what they raised."""
    start = threading.Barrier(len(deeds))
    raised: list[BaseException] = []

    def run(deed: Callable[[], object]) -> None:
        start.wait()
        try:
            deed()
        except BaseException as error:  # noqa: BLE001  # shown by the test
            raised.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[deed]) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
        assert not thread.is_alive()
    return raised


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("days", [("2026-03-18", "2026-03-18"), ("2026-03-18", "2026-03-19")])
def test_two_rounds_at_once_write_what_one_would(days: tuple[str, str]) -> None:
    boutique, model = BoutiqueFactory(), WatchModelFactory(rated_bar=None)
    for _owner in range(60):
        owner = OwnerFactory()
        for _piece in range(2):
            PieceFactory(owner=owner, boutique=boutique, model=model)
    results: list[int] = []

    def a_round(day: str) -> Callable[[], None]:
        def run() -> None:
            results.append(daily_round(as_of=date.fromisoformat(day), now=NOW, asked=Asked.CONFIRMED).letters)

        return run

    assert at_once(*[a_round(day) for day in days * 2]) == []
    assert sum(results) == 60
    assert Letter.objects.count() == 60
    assert Reminder.objects.filter(ended_on=None).count() == 120


@pytest.mark.django_db(transaction=True)
def test_four_senders_at_once_send_each_letter_once(due_piece: Make, sink: MailSink) -> None:
    for _piece in range(60):
        due_piece()
    daily_round(as_of=date(2026, 3, 18), now=NOW, asked=Asked.CONFIRMED)
    sent: list[int] = []

    def send() -> None:
        sent.append(send_waiting(now=datetime(2026, 11, 25, tzinfo=UTC), until_empty=True).sent)

    assert at_once(send, send, send, send) == []
    assert sum(sent) == 60
    assert Counter(mail.message_id for mail in sink.messages).total() == 60
    assert len({mail.message_id for mail in sink.messages}) == 60


@pytest.mark.django_db(transaction=True)
def test_a_round_and_a_sender_at_once_lose_no_reminder(sink: MailSink) -> None:
    """What falls due meanwhile joins a letter that still waits, or comes later: never a letter that is gone."""
    boutique, model = BoutiqueFactory(), WatchModelFactory(rated_bar=None)
    for _owner in range(40):
        owner = OwnerFactory()
        PieceFactory(owner=owner, boutique=boutique, model=model)
        PieceFactory(owner=owner, boutique=boutique, model=model, sold_on=date(2019, 8, 1))
    daily_round(as_of=date(2026, 3, 18), now=NOW, asked=Asked.CONFIRMED)
    assert (
        at_once(
            lambda: daily_round(as_of=date(2026, 6, 2), now=NOW, asked=Asked.CONFIRMED),
            lambda: send_waiting(now=NOW, as_of=date(2026, 6, 2), until_empty=True),
        )
        == []
    )
    send_waiting(now=NOW, as_of=date(2026, 6, 2), until_empty=True)
    # What met a letter in a sender's hands comes with the next round.
    daily_round(as_of=date(2026, 6, 2), now=NOW, asked=Asked.CONFIRMED)
    send_waiting(now=NOW, as_of=date(2026, 6, 2), until_empty=True)
    texts = " ".join(mail.text for mail in sink.messages)
    assert set(Letter.objects.values_list("state", flat=True)) == {LetterState.SENT.value}
    # Where the first letter had gone when the round came to its owner, its second one has its time by then too.
    for piece in Piece.objects.annotate(spoken_of=Count("reminders")):
        assert texts.count(piece.serial) == piece.spoken_of >= 1
