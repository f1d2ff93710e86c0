"""The desk: owners whom no mail reaches, answers, reports about letters, and requests."""

from datetime import timedelta

from service_center.book.models import Owner, Piece
from service_center.letters.models import Answer, DeliveryReport, Letter, StoppedAddress
from service_center.owner_pages.models import OwnerRequest
from tests.bench.on_a_made_book.full_house.writing import AS_OF, BATCH, at, write


def take_addresses() -> None:
    ids = [pk for pk in Owner.objects.filter(letters=True).order_by("pk").values_list("pk", flat=True) if pk % 20 == 0]
    for start in range(0, len(ids), BATCH):
        Owner.objects.filter(pk__in=ids[start : start + BATCH]).update(email="")


def write_answers() -> None:
    sent = list(
        Letter.objects.filter(state="sent").order_by("pk").values_list("pk", "owner_id", "planned_on")[:100_000]
    )
    pieces = dict(Piece.objects.filter(owner__in=[owner for _pk, owner, _day in sent]).values_list("owner_id", "pk"))
    choices = ("booked", "not_now", "not_now", "done_elsewhere", "no_longer_mine", "no_more_letters")
    write(
        Answer(owner_id=owner, piece_id=pieces[owner], letter_id=letter, choice=choices[letter % len(choices)],
               said_on=day + timedelta(days=letter % 28))
        for letter, owner, day in sent
    )  # fmt: skip
    write(
        DeliveryReport(letter_id=letter, email=f"gone{letter}@owners.example", source="mail", happened="failed",
                       happened_at=at(day + timedelta(days=1)), status="5.1.1", words="550 5.1.1 no such mailbox",
                       fault="address", recorded_at=at(day + timedelta(days=1)))
        for letter, _owner, day in sent[::5]
    )  # fmt: skip
    write(
        StoppedAddress(email=f"gone{letter}@owners.example", stopped_at=at(day), because="550 5.1.1", status="5.1.1",
                       letter_id=letter)
        for letter, _owner, day in sent[::5]
    )  # fmt: skip
    write(
        OwnerRequest(owner_id=owner, letter_id=letter, kind="correction", said="It is another strap.",
                     asked_on=day, asked_at=at(day), due_on=AS_OF + timedelta(days=letter % 30),
                     state="open" if letter % 10 == 0 else "done")
        for letter, owner, day in sent[::25]
    )  # fmt: skip
