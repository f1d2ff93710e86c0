"""Every named address of the site, read off the URL configuration, and something real to open at each."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from decimal import Decimal
from io import BytesIO
from typing import Any
from uuid import uuid4

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from service_center.book.models import Boutique, Piece
from service_center.intake.actions import Signed, take_in
from service_center.intake.drafts.actions import begin
from service_center.intake.photographs.actions import add_photograph
from service_center.intake.visits.actions import Wish, book
from service_center.intake.visits.models import OpeningHours
from service_center.intervals.models import IntervalRule
from service_center.letters.models import Letter, OwnerLink, Reminder, Round, StoppedAddress
from service_center.letters.rehearsing.models import Rehearsal
from service_center.letters.rehearsing.rules import Rehearsed
from service_center.letters.rules.links import hash_token
from service_center.letters.rules.words import LinkPurpose
from service_center.measurements.actions import record_sheet
from service_center.measurements.models import MachineFile
from service_center.measurements.rules import Reading, Wind
from service_center.owner_pages.actions import ask
from service_center.owner_pages.models import EmailChange
from service_center.owner_pages.rules import CONFIRM, RequestKind, hash_secret
from service_center.planning.actions import ask_for_picture, ask_to_accept, ask_what_if, work_out
from service_center.planning.models import PlanLine, SkillHours, WeekPlan
from service_center.workshop.calendars.actions import add_watchmaker
from service_center.workshop.calendars.models import Watchmaker
from service_center.workshop.models import OrderedPart, Part, PartsOrder, WorkOrder
from tests.factories import PieceFactory, StaffFactory, history
from tests.pictures import jpeg
from tests.workshop.hands import Hands

DAY = date(2026, 6, 5)
NOW = datetime(2026, 6, 5, 10, 0, tzinfo=UTC)
PAGE_SECRET, STOP_SECRET, ADDRESS_SECRET = "p" * 43, "s" * 43, "a" * 43


@dataclass
class World:
    """One boutique's piece, taken in, about which a letter went out."""

    piece: Piece = field(default_factory=PieceFactory)

    def __post_init__(self) -> None:
        self.boutique: Boutique = self.piece.boutique  # type: ignore[assignment]
        self.staff = StaffFactory(role="boutique", boutique=self.boutique.code)
        self.letter = Letter.objects.create(
            owner=self.piece.owner,
            language="en",
            planned_on=date(2026, 5, 4),
            state="sent",
            not_before=NOW,
            sent_at=NOW,
        )
        Reminder.objects.create(
            piece=self.piece,
            kind="overhaul",
            starts_on=date(2019, 5, 17),
            step="invitation",
            letter=self.letter,
            due_on=date(2026, 5, 17),
        )
        self.told = Letter.objects.create(
            owner=self.piece.owner,
            language="en",
            planned_on=date(2026, 6, 4),
            channel="telephone",
            state="sent",
            not_before=NOW,
            sent_at=NOW,
        )
        self.round = Round.objects.create(day=date(2026, 5, 4), started_at=NOW, finished_at=NOW, letters=1)
        for purpose, secret in ((LinkPurpose.PAGE, PAGE_SECRET), (LinkPurpose.STOP, STOP_SECRET)):
            OwnerLink.objects.create(
                letter=self.letter,
                purpose=purpose.value,
                token_hash=hash_token(purpose, secret),
                expires_at=datetime(2027, 6, 5, tzinfo=UTC),
            )
        assert self.piece.owner is not None
        EmailChange.objects.create(
            owner=self.piece.owner,
            letter=self.letter,
            before=self.piece.owner.email,
            email="ada@new.example",
            asked_at=NOW,
            expires_at=datetime(2026, 6, 12, tzinfo=UTC),
            token_hash=hash_secret(CONFIRM, ADDRESS_SECRET),
        )
        self.request = ask(self.letter, RequestKind.CORRECTION, said="It is another strap.", on=DAY, now=NOW)
        self.stopped = StoppedAddress.objects.create(
            email="nobody@owners.example", stopped_at=NOW, because="550 5.1.1 unknown", letter=self.letter
        )
        self.rule = IntervalRule.objects.create(
            code="R1",
            kind="overhaul",
            scope="house",
            use="any",
            opens_months=72,
            due_months=84,
            closes_months=96,
            in_force_from=date(2000, 1, 1),
            covers_running=False,
        )
        self.entry = history(self.piece, "2023-02-02", kind="repair", done_by="outside", note="Crown renewed.")
        self.sheet = record_sheet(
            self.piece, [Reading("6H", Wind.FULL, Decimal(2), Decimal(271), None)], taken_on=date(2024, 2, 2), by=None
        )
        OpeningHours.objects.create(boutique=self.boutique, weekday=4, opens=time(10), closes=time(12), places=2)
        friday = Wish(self.boutique, date(2026, 6, 12), time(10, 30))
        self.visit = book(self.letter, [self.piece], friday, form_key=uuid4(), on=DAY, now=NOW)
        self.started = begin(PieceFactory(boutique=self.boutique), self.boutique, by=self.staff, at=NOW)
        self.photograph = add_photograph(self.started, BytesIO(jpeg()), size=1000, by=self.staff, at=NOW)
        self.drop_off = take_in(
            self.piece,
            form_key=uuid4(),
            boutique=self.boutique,
            by=self.staff,
            taken_on=DAY,
            at=NOW,
            as_of=DAY,
            asked=[],
            owner_says="It loses a minute a day.",
            left_with="",
            sitting=None,
            signed=Signed("The piece\n", "en", "Ada Winter", (((10, 10), (400, 200)),)),
        )
        record_sheet(self.piece, [Reading("6H", Wind.FULL, Decimal(1), Decimal(290), None)], taken_on=DAY, by=None)
        self.watchmaker = add_watchmaker(
            name="Ada Ashwick",
            first_day=DAY,
            last_day=None,
            account=None,
            minutes=[480] * 5 + [0, 0],
            skills={},
            by=None,
        )
        hands = Hands(WorkOrder.objects.get(number=self.drop_off.number), self.staff, DAY)
        hands.to("received", "diagnosed", asks=True)
        self.estimate = hands.estimate()
        self.order = hands.order
        SkillHours.objects.create(skill="automatic", hours_a_week=20)
        self.picture = ask_for_picture(as_of=DAY, weeks=52, at=NOW, by=None)
        work_out(now=NOW)
        self.what_if = ask_what_if(as_of=DAY, weeks=52, about={"answers_percent": 120}, at=NOW, by=None)
        self.accepting = ask_to_accept(as_of=DAY, weeks=52, seen=0.0, at=NOW, by=None)
        work_out(now=NOW)
        self.rehearsal = Rehearsal.objects.create(day=DAY, asked_at=NOW, finished_at=NOW, found=Rehearsed().as_json())
        self.part = Part.objects.create(number="GK-10", name="Case back gasket", sort="gasket")
        parts = PartsOrder.objects.create(form_key=uuid4(), ordered_on=DAY, at=NOW, by=self.staff)
        self.ordered = OrderedPart.objects.create(order=parts, part=self.part, quantity=10, expected_on=DAY)
        order = WorkOrder.objects.get(piece=self.piece, closed_on=None)
        week = WeekPlan.objects.create(
            monday=date(2026, 6, 8), wanted=False, wanted_from=DAY, wanted_at=NOW, planned_at=NOW, as_of=DAY,
            cost=0, plain_cost=0, bound=0, days_bound=0, days_late=0, minutes_left_out=0, changes=0, load=0,
        )  # fmt: skip
        self.line = PlanLine.objects.create(
            plan=week,
            operation=order.operations.order_by("position")[0],
            watchmaker=Watchmaker.objects.create(name="Anna Tarn", first_day=DAY),
            day=week.monday,
            turn=1,
            minutes=15,
        )
        self.machine_file = MachineFile.objects.create(name="Bench 2", position_column="Pos", rate_column="Rate")


# What stands in the address of each page that needs something. A page that is missing here fails the tests.
EXAMPLES: dict[str, Callable[[World], dict[str, Any]]] = {
    "planning:accepting": lambda world: {"pk": world.accepting.pk},
    "planning:progress": lambda world: {"pk": world.picture.pk},
    "planning:what_if_answer": lambda world: {"pk": world.what_if.pk},
    "planning:behind": lambda world: {"week": "2026-W24", "skill": "automatic"},
    "planning:letters_out": lambda world: {"week": "2026-W24", "skill": "automatic"},
    "planning:invited": lambda world: {"week": "2026-W24", "skill": "automatic"},
    "pieces:piece": lambda world: {"pk": world.piece.pk},
    "pieces:record_entry": lambda world: {"pk": world.piece.pk},
    "pieces:strike_entry": lambda world: {"pk": world.piece.pk, "code": world.entry.code},
    "pieces:correct_sheet": lambda world: {"pk": world.piece.pk, "sheet": world.sheet.pk},
    "bench:measurements": lambda world: {"pk": world.piece.pk},
    "bench:new_sheet": lambda world: {"pk": world.piece.pk},
    "bench:compare": lambda world: {"pk": world.piece.pk},
    "bench:sheet": lambda world: {"pk": world.piece.pk, "sheet": world.sheet.pk},
    "bench:correct_lift_angle": lambda world: {"pk": world.piece.pk, "sheet": world.sheet.pk},
    "bench:tightness": lambda world: {"pk": world.piece.pk},
    "bench:reserve": lambda world: {"pk": world.piece.pk},
    "bench:service_report": lambda world: {"pk": world.piece.pk, "drop_off": world.drop_off.pk},
    "bench:order": lambda world: {"number": world.order.number},
    "bench:estimate": lambda world: {"number": world.order.number},
    "bench:estimate_paper": lambda world: {"number": world.order.number, "pk": world.estimate.pk},
    "bench:finish": lambda world: {"number": world.order.number},
    "bench:take_back": lambda world: {"number": world.order.number},
    "bench:take": lambda world: {"number": world.order.number},
    "bench:move": lambda world: {"number": world.order.number},
    "bench:one_hand": lambda world: {"number": world.order.number},
    "workshop:times": lambda world: {"kind": "repair"},
    "workshop:part": lambda world: {"pk": world.part.pk},
    "workshop:ordered_line": lambda world: {"pk": world.ordered.pk},
    "workshop:order_parts": lambda world: {"number": world.order.number},
    "bench:judging": lambda world: {"pk": world.piece.model.calibre_id},
    "bench:machine_file": lambda world: {"pk": world.machine_file.pk},
    "guarantee:piece": lambda world: {"pk": world.piece.pk},
    "guarantee:decide": lambda world: {"pk": world.piece.pk},
    "guarantee:card": lambda world: {"pk": world.piece.pk},
    "pieces:hand_back": lambda world: {"pk": world.piece.pk},
    "rulebook:end_rule": lambda world: {"pk": world.rule.pk},
    "letters:letter": lambda world: {"pk": world.letter.pk},
    "letters:letter_html": lambda world: {"pk": world.letter.pk},
    "letters:settle_doubt": lambda world: {"pk": world.letter.pk},
    "letters:release": lambda world: {"pk": world.letter.pk},
    "letters:end": lambda world: {"pk": world.letter.pk},
    "letters:rehearsal_progress": lambda world: {"pk": world.rehearsal.pk},
    "letters:round": lambda world: {"pk": world.round.pk},
    "letters:decide_round": lambda world: {"pk": world.round.pk},
    "letters:prepare": lambda world: {"pk": world.piece.owner_id},
    "letters:prepare_unsaid": lambda world: {"pk": world.letter.pk},
    "letters:on_paper": lambda world: {"pk": world.told.pk},
    "letters:reached": lambda world: {"pk": world.told.pk},
    "letters:put_back": lambda world: {"pk": world.told.pk},
    "letters:write_again": lambda world: {"pk": world.stopped.pk},
    "letters:wording_in": lambda world: {"language": "fr"},
    "letters:wording_group": lambda world: {"language": "fr", "slug": "overhaul-invitation"},
    "letters:wording_preview": lambda world: {"language": "fr", "slug": "overhaul-invitation"},
    "letters:wording_text": lambda world: {"language": "fr", "code": "frame.closing"},
    "letters:wording_back": lambda world: {"language": "fr", "code": "frame.closing"},
    "calendars:watchmaker": lambda world: {"pk": world.watchmaker.pk},
    "planning:week_plan": lambda world: {"monday": world.line.plan.monday},
    "planning:week_paper": lambda world: {"monday": world.line.plan.monday},
    "planning:plan_again": lambda world: {"monday": world.line.plan.monday},
    "planning:plan_line": lambda world: {"pk": world.line.pk},
    "intake:drop_off": lambda world: {"pk": world.piece.pk},
    "intake:owner_of": lambda world: {"pk": world.started.piece.pk},
    "intake:started": lambda world: {"pk": world.started.pk},
    "intake:step": lambda world: {"pk": world.started.pk, "name": "condition"},
    "intake:take_over": lambda world: {"pk": world.started.pk},
    "intake:give_up": lambda world: {"pk": world.started.pk},
    "intake:photograph": lambda world: {"key": world.photograph.key},
    "intake:signature": lambda world: {"pk": world.drop_off.pk},
    "intake:taken_in": lambda world: {"pk": world.drop_off.pk},
    "intake:receipt": lambda world: {"pk": world.drop_off.pk},
    "intake:label": lambda world: {"pk": world.drop_off.pk},
    "intake:mail_receipt": lambda world: {"pk": world.drop_off.pk},
    "intake:mark_visit": lambda world: {"pk": world.visit.pk},
    "owner_pages:letter": lambda world: {"token": PAGE_SECRET},
    "owner_pages:answer": lambda world: {"token": PAGE_SECRET},
    "owner_pages:stop_letters": lambda world: {"token": STOP_SECRET},
    "owner_pages:book_visit": lambda world: {"token": PAGE_SECRET},
    "owner_pages:visit": lambda world: {"token": PAGE_SECRET, "pk": world.visit.pk},
    "owner_pages:move_visit": lambda world: {"token": PAGE_SECRET, "pk": world.visit.pk},
    "owner_pages:cancel_visit": lambda world: {"token": PAGE_SECRET, "pk": world.visit.pk},
    "owner_pages:visit_calendar": lambda world: {"token": PAGE_SECRET, "pk": world.visit.pk},
    "owner_pages:piece": lambda world: {"token": PAGE_SECRET, "pk": world.piece.pk},
    "owner_pages:enrol": lambda world: {"token": PAGE_SECRET, "pk": world.piece.pk},
    "owner_pages:receipt": lambda world: {"token": PAGE_SECRET, "pk": world.drop_off.pk},
    "owner_pages:report": lambda world: {"token": PAGE_SECRET, "pk": world.drop_off.pk},
    "owner_pages:estimate_paper": lambda world: {"token": PAGE_SECRET, "pk": world.estimate.pk},
    "owner_pages:answer_estimate": lambda world: {"token": PAGE_SECRET, "pk": world.estimate.pk},
    "owner_pages:photograph": lambda world: {"token": PAGE_SECRET, "key": world.photograph.key},
    "owner_pages:details": lambda world: {"token": PAGE_SECRET},
    "owner_pages:correct_name": lambda world: {"token": PAGE_SECRET},
    "owner_pages:withdraw_email": lambda world: {"token": PAGE_SECRET},
    "owner_pages:confirm_email": lambda world: {"token": ADDRESS_SECRET},
    "owner_pages:data": lambda world: {"token": PAGE_SECRET},
    "owner_pages:data_copy": lambda world: {"token": PAGE_SECRET},
    "owner_pages:data_ask": lambda world: {"token": PAGE_SECRET},
    "owners:request": lambda world: {"pk": world.request.pk},
    "owners:owner": lambda world: {"pk": world.piece.owner_id},
    "owners:erase": lambda world: {"pk": world.piece.owner_id},
    "owners:ground": lambda world: {"pk": world.piece.owner_id},
    "owners:correct": lambda world: {"pk": world.piece.owner_id},
    "pieces:correct": lambda world: {"pk": world.piece.pk},
    "letters:withdraw_links": lambda world: {"pk": world.letter.pk},
    "demo:mail": lambda world: {"key": "none"},
    "demo:mail_html": lambda world: {"key": "none"},
}

# Pages of one boutique's things: what another boutique's staff may not open.
OF_A_BOUTIQUE = [
    "pieces:piece",
    "bench:order",
    "bench:one_hand",
    "bench:estimate_paper",
    "bench:measurements",
    "bench:sheet",
    "bench:new_sheet",
    "bench:tightness",
    "bench:service_report",
    "guarantee:piece",
    "guarantee:card",
    "intake:drop_off",
    "intake:owner_of",
    "intake:started",
    "intake:step",
    "intake:give_up",
    "intake:photograph",
    "intake:signature",
    "intake:taken_in",
    "intake:receipt",
    "intake:label",
]


def view_names() -> list[str]:
    """Every name, with its namespaces; an address without a name counts as its pattern."""
    return sorted(_names(get_resolver(), ""))


def address(name: str, world: World) -> str:
    """The address of a page, with something that exists where it needs something."""
    example = EXAMPLES.get(name)
    return reverse(name, kwargs=example(world) if example else {})


def _names(resolver: URLResolver, within: str) -> Iterator[str]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLPattern):
            yield f"{within}{pattern.name or pattern.pattern}"
        else:
            yield from _names(pattern, f"{within}{pattern.namespace}:" if pattern.namespace else within)
