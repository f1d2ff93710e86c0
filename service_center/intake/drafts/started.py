"""One started drop-off as it stands: its forms, each with what was typed, and what follows from them."""

from datetime import date, datetime
from enum import StrEnum
from functools import cached_property
from hashlib import sha256
from typing import Any

from django.conf import settings
from django.forms import Form
from django.utils import translation
from django.utils.datastructures import MultiValueDict

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.queries import pieces_visible_to
from service_center.book.rules import Winding
from service_center.book.wording import FALLBACK, language_of
from service_center.guarantee.queries import decision_of
from service_center.guarantee.rules import Decision
from service_center.intake import money
from service_center.intake.drafts.forms import ConditionForm, PromiseForm, ReadingsForm, SignForm, StoryForm
from service_center.intake.drafts.models import Draft
from service_center.intake.drafts.queries import Said, said_of
from service_center.intake.photographs.models import Photograph
from service_center.intake.queries import day_at
from service_center.intake.rules import Asked, Caution, Estimate, Noted, cautions_for, estimate_of
from service_center.intake.signing.statement import Section, Told, statement, text_of
from service_center.intake.terms.offering import Offer, offer_for
from service_center.intake.terms.queries import terms_for
from service_center.letters.actions import is_reached
from service_center.measurements.actions.tightness import is_under_way
from service_center.measurements.models import TightnessRun
from service_center.measurements.queries import practice
from service_center.measurements.rules.tightness import PlannedTest, Practice, plan_for

MOST_TYPED = 20_000


class Step(StrEnum):
    """The steps of a drop-off, in their order."""

    STORY = "story"
    CONDITION = "condition"
    READINGS = "readings"
    PROMISE = "promise"
    SIGN = "sign"


FILLED = (Step.STORY, Step.CONDITION, Step.READINGS, Step.PROMISE)
# What of the promise holds only for the work it was made for.
OF_THE_DAY = ("promised_on", "quoted_on", "promised_for")


def after(step: Step) -> Step:
    """The step that comes next; the last stays the last."""
    order = list(Step)
    return order[min(order.index(step) + 1, len(order) - 1)]


class Started:
    """A draft, read once: what was typed at each step, and the forms that judge it."""

    def __init__(self, draft: Draft, staff: Staff, *, now: datetime) -> None:
        self.draft, self.piece, self.staff, self.now = draft, draft.piece, staff, now
        self.said: dict[str, Said] = said_of(draft)

    @cached_property
    def shows_owner(self) -> bool:
        """Whether this member of staff may see whose it is before it is taken in."""
        visible: bool = pieces_visible_to(self.staff).filter(pk=self.piece.pk).exists()
        return visible

    @cached_property
    def mail_to(self) -> str:
        """Where the receipt can go by mail; empty where it cannot, or where staff may not see whose the piece is."""
        owner = self.piece.owner
        return owner.email if owner and self.shows_owner and is_reached(owner) else ""

    @cached_property
    def _practice(self) -> Practice:
        return practice()

    @cached_property
    def tests_go_on(self) -> bool:
        """Whether tests of the piece were begun elsewhere and wait for the next one."""
        last = TightnessRun.objects.filter(piece=self.piece).order_by("-pk").first()
        return last is not None and is_under_way(last)

    @cached_property
    def dry_plan(self) -> list[PlannedTest]:
        """The tests that can be made here; none of a piece without a rating, or one whose tests go on elsewhere."""
        model = self.piece.model
        if model is None or not model.rated_bar or self.tests_go_on:
            return []
        return plan_for(rated_bar=model.rated_bar, divers=bool(model.divers), practice=self._practice)

    @cached_property
    def taken_on(self) -> date:
        return day_at(self.draft.boutique, self.now)

    @cached_property
    def decision(self) -> Decision:
        country = (self.piece.owner.country if self.piece.owner else "") or self.draft.boutique.country
        return decision_of(self.piece, self.taken_on, country=country)

    @cached_property
    def photographs(self) -> list[Photograph]:
        return list(self.draft.photographs.order_by("pk"))

    # --- forms --------------------------------------------------------------------------------------

    def form(self, step: Step, sent: Any = None) -> Any:
        """The form of a step: of what was sent, else with what was kept as its first values."""
        return self._form(step, sent, self._initial(step))

    def kept(self, step: Step) -> Any:
        """The form of a step, judged as it was kept."""
        said = self.said.get(step, {})
        return self._form(step, MultiValueDict({**self._defaults(step, said), **said}), {})

    def typed(self, step: Step, sent: Any) -> Said:
        """What of a sent form is kept: its own fields, as they were typed, within reason."""
        names = self.form(step).fields
        clean = {name: [text.replace("\0", "")[:MOST_TYPED] for text in sent.getlist(name)][:20] for name in names}
        return {name: texts for name, texts in clean.items() if texts}

    def is_kept(self, step: Step) -> bool:
        """Whether a step was kept, and holds for what is asked now."""
        return step in self.said and not (step is Step.PROMISE and self.is_for_other_work)

    @cached_property
    def faults(self) -> list[Step]:
        """The steps that lack something or are wrong."""
        return [step for step in FILLED if not self._checked[step].is_valid()]

    @cached_property
    def _checked(self) -> dict[Step, Any]:
        return {step: self.kept(step) for step in FILLED}

    def _form(self, step: Step, data: Any, initial: dict[str, Any]) -> Form:
        match step:
            case Step.STORY:
                return StoryForm(data, initial=initial, choose_boutique=self.staff.role != Role.BOUTIQUE)
            case Step.CONDITION:
                return ConditionForm(data, initial=initial, piece=self.piece, boutique=self.draft.boutique)
            case Step.READINGS:
                return ReadingsForm(data, initial=initial, plan=self.dry_plan, volume_ml=self._practice.free_volume_ml)
            case Step.PROMISE:
                return PromiseForm(
                    data, initial=initial, taken_on=self.taken_on, usual=self.usual_estimate, work=self.work
                )
            case Step.SIGN:
                return SignForm(data, initial=initial, mail_to=self.mail_to)

    def _initial(self, step: Step) -> dict[str, Any]:
        several = {"asked"}
        said = self.said.get(step, {})
        if step is Step.PROMISE and self.is_for_other_work:
            said = {name: texts for name, texts in said.items() if name not in OF_THE_DAY}
        kept = {**self._defaults(step, said), **said}
        return {name: texts if name in several else texts[0] for name, texts in kept.items() if texts}

    def _defaults(self, step: Step, said: Said) -> Said:
        """What stands in a step's fields before anybody typed there. `said`: what was typed there."""
        match step:
            case Step.STORY:
                return {"boutique": [str(self.draft.boutique_id)]}
            case Step.CONDITION:
                return {"declared_currency": money.currencies(self.draft.boutique.country)[:1]}
            case Step.READINGS:
                return {"lift_angle_deg": [self._lift_angle()]}
            case Step.PROMISE:
                return {**self._offered(said), **self._usual_lines(said)}
            case Step.SIGN:
                signer = [str(self.piece.owner)] if self.shows_owner and self.piece.owner else []
                return {"signer": signer, "mail": ["on"] if self.mail_to else []}

    def _offered(self, said: Said) -> Said:
        """The day that is offered, and the one that was worked out, as long as nobody promised another."""
        if "promised_on" in said:
            return {}
        quoted = self.offer.nine_in_ten_by
        return {
            "promised_on": [self.offer.day.isoformat()],
            "quoted_on": [quoted.isoformat()] if quoted else [],
            "promised_for": [self.work],
        }

    def _usual_lines(self, said: Said) -> Said:
        """The house's amounts, for work that was asked since the estimate was typed too."""
        lines: Said = {}
        for line in self.usual_estimate.lines:
            if f"{line.asked}-amount" not in said:
                lines[f"{line.asked}-amount"] = [money.typed(line.amount, self.usual_estimate.currency)]
                lines |= {f"{line.asked}-later": ["on"]} if line.amount is None else {}
        return lines

    def _lift_angle(self) -> str:
        """The calibre's own, which the machine should be set to."""
        angle = self.piece.model.calibre.lift_angle_deg if self.piece.model and self.piece.model.calibre else None
        return "" if angle is None else f"{angle.normalize():f}"

    # --- what follows --------------------------------------------------------------------------------

    @cached_property
    def asked(self) -> tuple[Asked, ...]:
        """What is asked, as far as it was said."""
        return tuple(one for one in Asked if one.value in self.said.get(Step.STORY, {}).get("asked", []))

    @property
    def work(self) -> str:
        """A mark of what is promised for: the work that is asked, and where it is handed back."""
        return " ".join([str(self.draft.boutique_id), *(one.value for one in self.asked)])

    @property
    def is_for_other_work(self) -> bool:
        """Whether a day was promised, and what is asked has changed since."""
        said = self.said.get(Step.PROMISE, {})
        return "promised_on" in said and said.get("promised_for") != [self.work]

    @property
    def promised_before(self) -> str:
        """The day that was promised for other work, as it was typed; empty for none."""
        return self.said[Step.PROMISE]["promised_on"][0] if self.is_for_other_work else ""

    @cached_property
    def _terms(self) -> Any:
        return terms_for(self.piece)

    @cached_property
    def offer(self) -> Offer:
        """The day to promise, as it stands now."""
        return offer_for(self.piece, self.draft.boutique, self.taken_on, self.asked)

    @cached_property
    def usual_estimate(self) -> Estimate:
        return estimate_of(self.asked, self._terms, self.decision.covered_by, currency=settings.HOUSE_CURRENCY)

    @cached_property
    def cautions(self) -> list[Caution]:
        calibre = self.piece.model.calibre if self.piece.model else None
        winding = Winding(calibre.winding) if calibre and calibre.winding else None
        return cautions_for(made_on=self.piece.made_on, winding=winding, asked=self.asked)

    @cached_property
    def noted(self) -> Noted:
        """Condition, value, promise and estimate; the steps must be without faults."""
        condition, promise = self._checked[Step.CONDITION], self._checked[Step.PROMISE]
        return Noted(
            condition.condition(),
            condition.cleaned_data["declared"],
            promise.cleaned_data["promised_on"],
            promise.estimate(),
            promise.cleaned_data["quoted_on"],
        )

    @cached_property
    def language(self) -> str:
        """What the owner reads."""
        return language_of(self.piece.owner) if self.piece.owner else FALLBACK

    @cached_property
    def sections(self) -> list[Section]:
        """What is signed, in the owner's language; the steps must be without faults."""
        story, condition = self._checked[Step.STORY].cleaned_data, self._checked[Step.CONDITION].cleaned_data
        told = Told(
            piece=self.piece,
            owner=self.piece.owner if self.shows_owner else None,
            boutique=self.draft.boutique,
            taken_on=self.taken_on,
            asked=self._checked[Step.STORY].asked_for(),
            owner_says=story["owner_says"],
            left_with=condition["left_with"],
            noted=self.noted,
            photographs=len(self.photographs),
            readings=len(self._checked[Step.READINGS].cleaned_data["readings"]),
            dry=[tested.passed is True for _test, tested in self._checked[Step.READINGS].cleaned_data["dry"]],
            decision=self.decision,
            cautions=self.cautions,
        )
        with translation.override(self.language):
            return statement(told)

    @cached_property
    def seen(self) -> str:
        """A mark of all that is signed: the text, and the photographs it speaks of."""
        pictures = "".join(one.sha256 for one in self.photographs)
        return sha256((text_of(self.sections) + pictures).encode()).hexdigest()

    def deed(self) -> dict[str, Any]:
        """The checked values as `actions.take_in` takes them; the steps must be without faults."""
        return {
            "form_key": self.draft.key,
            "boutique": self.draft.boutique,
            "taken_on": self.taken_on,
            "asked": list(self._checked[Step.STORY].asked_for()),
            "owner_says": self._checked[Step.STORY].cleaned_data["owner_says"],
            "left_with": self._checked[Step.CONDITION].cleaned_data["left_with"],
            "sitting": self._checked[Step.READINGS].sitting(),
            "dry": self._checked[Step.READINGS].cleaned_data["dry"],
            "noted": self.noted,
            "draft": self.draft,
        }
