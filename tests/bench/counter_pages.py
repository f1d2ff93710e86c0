"""Server time of the counter's pages on a book of any size.

    DATABASE_URL=postgres://... python manage.py collectstatic --noinput
    DATABASE_URL=postgres://... python -m tests.bench.counter_pages

Asks each page ten times after a first one, in this process, as the counter of the first boutique: the view with its
statements and its template, without the network. Two members of staff are made, and a drop-off is begun and given up.
On a busy machine the fastest is nearest to a quiet one. A book of a million pieces is made by `make_large_book`, its due dates by `recompute_due`.
"""

import os
from collections.abc import Callable
from functools import partial
from statistics import median
from time import perf_counter

import django
from django.test import Client

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.access.models import Staff  # noqa: E402  # after Django is set up
from service_center.book.models import Boutique, Piece  # noqa: E402
from service_center.book.rules import Place, Status  # noqa: E402
from service_center.intake.drafts.models import Draft  # noqa: E402
from service_center.intake.models import DropOff  # noqa: E402
from service_center.intake.papers import receipt, size_for  # noqa: E402

TIMES = 10
STEPS = ("story", "condition", "readings", "promise", "sign")


def main() -> None:
    boutique = Boutique.objects.order_by("pk")[0]
    here = Piece.objects.filter(boutique=boutique, place=Place.OWNER, status=Status.IN_USE)
    piece = here.select_related("owner").order_by("-pk")[0]
    counter, desk = signed_in("bench-counter", "boutique", boutique.code), signed_in("bench-desk", "desk", "")
    print(f"{Piece.objects.count():,} pieces; {boutique}, {piece.serial}")
    ask("today, counter", counter, "/")
    ask("today, desk", desk, "/")
    ask("counter, nothing typed", counter, "/counter/")
    ask("counter, whole serial", counter, f"/counter/?q={piece.serial}")
    ask("counter, part of a serial", counter, f"/counter/?q={piece.serial[:-3]}")
    ask("counter, owner's name", counter, f"/counter/?q={piece.owner.name if piece.owner else piece.serial}")
    counter.post(f"/counter/take-in/{piece.pk}/?serial={piece.serial}")
    draft = Draft.objects.get(piece=piece, ended_at=None)
    for step in STEPS:
        ask(f"drop-off, {step}", counter, f"/counter/started/{draft.pk}/{step}/")
    counter.post(f"/counter/started/{draft.pk}/give-up/")
    for drop_off in DropOff.objects.order_by("-pk")[:1]:
        say("receipt (PDF)", partial(receipt, drop_off, size=size_for(drop_off)))


def signed_in(name: str, role: str, boutique: str) -> Client:
    staff, _new = Staff.objects.get_or_create(username=name, defaults={"role": role, "boutique": boutique})
    client = Client(headers={"host": "127.0.0.1"})
    client.force_login(staff)
    return client


def ask(name: str, client: Client, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 200, (address, answer.status_code)
    say(name, partial(client.get, address))


def say(name: str, deed: Callable[[], object]) -> None:
    times = [timed(deed) for _ in range(TIMES)]
    print(
        f"{name:24} {median(times):6.0f} ms, the fastest of {TIMES} {min(times):5.0f}, the slowest {max(times):5.0f}",
        flush=True,
    )


def timed(deed: Callable[[], object]) -> float:
    began = perf_counter()
    deed()
    return (perf_counter() - began) * 1000


if __name__ == "__main__":
    main()
