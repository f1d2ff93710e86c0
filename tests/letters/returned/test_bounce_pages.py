"""What the desk sees of what came back: why an address is stopped, what the house must mend, and its one button."""

from collections.abc import Callable
from datetime import timedelta

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.letters.actions.returning import take_mail
from service_center.letters.models import AddressLifted, DeliveryReport, Letter, ReportBox, StoppedAddress
from service_center.letters.queries import bounces
from tests.letters.conftest import round_on, send
from tests.letters.returned.reports import delivery_report
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
SignIn = Callable[..., Client]


def bounce(letter: Letter, status: str = "5.1.1", words: str = "no such user") -> None:
    now = timezone.now()
    raw = delivery_report(letter, status=status, diagnostic=f"smtp; 550 {status} {words}", day="")
    take_mail(raw, came_at=now)


def page(client: Client, name: str, *arguments: int) -> str:
    answer = client.get(reverse(name, args=arguments))
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_stopped_address_shows_why_wherever_the_desk_meets_it(sent: Letter, signed_in: SignIn) -> None:
    desk, piece = signed_in("desk"), Piece.objects.get()
    places = [("letters:letter", sent.pk), ("pieces:piece", piece.pk)]
    assert not [place for place in places if "No letter goes there" in page(desk, *place)]
    bounce(sent)
    for place in places:
        assert "No letter goes there" in page(desk, *place)
        assert "There is no such mailbox." in page(desk, *place)
    listed = page(desk, "letters:bounces")
    assert sent.owner.email in listed
    assert "There is no such mailbox." in listed
    assert "550 5.1.1 no such user" in listed


def test_the_counter_sees_why_too_but_may_not_decide(sent: Letter, signed_in: SignIn) -> None:
    bounce(sent)
    piece = Piece.objects.select_related("boutique").get()
    assert piece.boutique is not None
    counter = signed_in("boutique", piece.boutique.code)
    shown = page(counter, "pieces:piece", piece.pk)
    assert "There is no such mailbox." in shown
    again = reverse("letters:write_again", args=[StoppedAddress.objects.get().pk])
    assert again not in shown
    assert counter.post(again, {"reason": "so"}).status_code == 403
    assert StoppedAddress.objects.exists()


def test_letters_go_there_again_with_a_reason_and_a_row_of_the_trail(sent: Letter, signed_in: SignIn) -> None:
    bounce(sent)
    desk, address = signed_in("desk"), reverse("letters:write_again", args=[StoppedAddress.objects.get().pk])
    assert "This field is required" in desk.post(address, {"reason": " "}).content.decode()
    assert StoppedAddress.objects.exists()
    answer = desk.post(address, {"reason": "The owner emptied it."}, follow=True)
    assert "Letters go to this address again." in answer.content.decode()
    assert not StoppedAddress.objects.exists()
    assert Trail.objects.get(deed="address_lifted").reason == "The owner emptied it."
    assert AddressLifted.objects.get().email == sent.owner.email
    for again in (desk.post(address, {"reason": "twice"}, follow=True), desk.get(address, follow=True)):
        assert "Nothing was changed: letters go to this address already." in again.content.decode()
    assert AddressLifted.objects.count() == 1


def test_what_mail_servers_have_against_the_house_stands_on_the_desks_first_pages(
    sent: Letter, signed_in: SignIn
) -> None:
    desk = signed_in("desk")
    places = ("today:home", "letters:letters", "letters:bounces")
    assert not [name for name in places if "the house's own" in page(desk, name)]
    bounce(sent, "5.7.26", "unauthenticated mail")
    for name in places:
        shown = page(desk, name)
        assert "1 letter was refused lately for a reason that is the house's own." in shown
        assert "5.7.26 unauthenticated mail" in shown
    assert "house's own" not in page(signed_in("boutique"), "today:home")
    assert not StoppedAddress.objects.exists()


def test_an_alarm_goes_out_a_week_after_its_cause(sent: Letter) -> None:
    bounce(sent, "5.7.1")
    now = timezone.now()
    assert bounces.alarm(now) is not None
    assert bounces.alarm(now + timedelta(days=6)) is not None
    assert bounces.alarm(now + timedelta(days=8)) is None


def test_a_refusal_at_the_hand_over_is_an_alarm_as_well(due_piece: Make, sink: MailSink, signed_in: SignIn) -> None:
    due_piece()
    round_on("2026-03-18")
    sink.fail("mail", "550 5.7.1 you are on a list")
    send()
    assert "you are on a list" in page(signed_in("desk"), "letters:bounces")


def test_a_mailbox_that_cannot_be_read_says_so(db: None, signed_in: SignIn, settings) -> None:
    settings.BOUNCE_FOLDER = "/srv/mail"
    ReportBox.objects.create(name="folder", looked_at=timezone.now(), trouble="/srv/mail: Permission denied")
    assert "/srv/mail: Permission denied" in page(signed_in("desk"), "letters:bounces")


def test_a_house_that_reads_nothing_is_told(db: None, signed_in: SignIn, settings) -> None:
    assert "Nothing is read yet" in page(signed_in("desk"), "letters:bounces")
    settings.BOUNCE_FOLDER = "/srv/mail"
    assert "Nothing is read yet" not in page(signed_in("desk"), "letters:bounces")


def test_a_servers_words_are_shown_as_words(sent: Letter, signed_in: SignIn) -> None:
    bounce(sent, words="<script>alert(1)</script>")
    for name, arguments in (("letters:bounces", ()), ("letters:letter", (sent.pk,))):
        shown = page(signed_in("desk"), name, *arguments)
        assert "<script>alert" not in shown
        assert "&lt;script&gt;alert" in shown


def test_stopped_addresses_are_turned_page_by_page(sent: Letter, signed_in: SignIn) -> None:
    StoppedAddress.objects.bulk_create(
        StoppedAddress(email=f"{number}@owners.example", stopped_at=timezone.now(), because="550 5.1.1", letter=sent)
        for number in range(bounces.SHOWN + 5)
    )
    desk = signed_in("desk")
    first = desk.get(reverse("letters:bounces")).context
    second = desk.get(reverse("letters:bounces"), {"before": first["following"]}).context
    seen = [one["address"].email for one in [*first["stopped"], *second["stopped"]]]
    assert seen == [f"{number}@owners.example" for number in reversed(range(bounces.SHOWN + 5))]
    assert second["following"] is None
    assert desk.get(reverse("letters:bounces"), {"before": "x"}).status_code == 404


def test_the_page_asks_the_same_few_questions_however_much_came_back(
    sent: Letter, signed_in: SignIn, django_assert_max_num_queries
) -> None:
    now = timezone.now()
    DeliveryReport.objects.bulk_create(
        DeliveryReport(
            letter=sent, email=f"{number}@owners.example", source="mail", happened="failed", fault="address",
            happened_at=now - timedelta(minutes=number), recorded_at=now,
        )
        for number in range(80)
    )  # fmt: skip
    desk = signed_in("desk")
    with django_assert_max_num_queries(10):
        desk.get(reverse("letters:bounces"))
