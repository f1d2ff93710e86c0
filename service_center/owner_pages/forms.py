"""The answers an owner can give, each a form with its one button."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.book.days import day_written
from service_center.book.models import Boutique
from service_center.intake.visits.actions import Wish
from service_center.letters.rules.words import AnswerChoice
from service_center.owner_pages.owner_form import OwnerForm
from service_center.owner_pages.queries import PieceAsked
from service_center.owner_pages.rules import ASK_AGAIN_DAYS, Days, days_for

DAY_LABELS = {
    AnswerChoice.BOOKED: _("On which day?"),
    AnswerChoice.NOT_NOW: _("When may we ask again?"),
    AnswerChoice.DONE_ELSEWHERE: _("On which day was it done?"),
}


class AnswerForm(OwnerForm):
    """An answer that names no day: no longer mine."""

    def answer(self) -> dict[str, Any]:
        """Day and boutique, as `actions.answer` takes them. For a valid form."""
        return {"day": self.cleaned_data.get("day"), "boutique": self.cleaned_data.get("boutique")}


class DayForm(AnswerForm):
    """An answer that names a day: not now, done elsewhere."""

    day = forms.DateField(input_formats=["%Y-%m-%d"], widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def __init__(self, *args: Any, choice: AnswerChoice, days: Days, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.days = days
        field = self.fields["day"]
        field.label, field.initial = DAY_LABELS[choice], days.proposed
        field.widget.attrs |= {"min": days.first.isoformat(), "max": days.last.isoformat()}

    def clean_day(self) -> date:
        return within(self.days, self.cleaned_data["day"])


def within(days: Days, day: date) -> date:
    """The day, where an answer may name it. Raises ValidationError that says which days it may name."""
    if not days.hold(day):
        raise forms.ValidationError(
            _("Please choose a day from %(first)s to %(last)s."),
            code="day",
            params={"first": day_written(days.first), "last": day_written(days.last)},
        )
    return day


class BookForm(DayForm):
    """An answer that names a boutique and a day, for one piece or for several that come together."""

    boutique = forms.TypedChoiceField(label=_("Which boutique?"))
    field_order = ["boutique", "day"]

    def __init__(self, *args: Any, boutiques: list[Boutique], pieces: list[PieceAsked], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.serials = [of.piece.serial for of in pieces]
        field = self.fields["boutique"]
        assert isinstance(field, forms.TypedChoiceField)
        field.choices = [(boutique.code, str(boutique)) for boutique in boutiques]
        field.coerce = {boutique.code: boutique for boutique in boutiques}.__getitem__
        field.initial = next((of.piece.boutique.code for of in pieces if of.piece.boutique), None)


@dataclass(frozen=True, slots=True)
class Answers:
    """The forms of one piece. `book` is None where the house has no boutique to bring it to."""

    book: BookForm | None
    not_now: DayForm
    done_elsewhere: DayForm
    no_longer_mine: AnswerForm

    def of(self, choice: AnswerChoice) -> AnswerForm | None:
        """The form of one choice; None for one that this page does not offer."""
        return {
            AnswerChoice.BOOKED: self.book,
            AnswerChoice.NOT_NOW: self.not_now,
            AnswerChoice.DONE_ELSEWHERE: self.done_elsewhere,
            AnswerChoice.NO_LONGER_MINE: self.no_longer_mine,
        }.get(choice)


def answers_for(
    of: PieceAsked,
    boutiques: list[Boutique],
    *,
    today: date,
    chosen: AnswerChoice | None = None,
    data: QueryDict | None = None,
) -> Answers:
    """The forms of one piece; the chosen one is bound to what was sent, the others are fresh."""

    def form(kind: type[AnswerForm], choice: AnswerChoice, **more: Any) -> Any:
        days = days_for(choice, today=today, starts_on=of.starts_on or today)
        if days is not None:
            more |= {"choice": choice, "days": days}
        auto_id = f"{choice.value}-{of.piece.pk}-%s"
        return kind(data if choice is chosen else None, auto_id=auto_id, **more)

    return Answers(
        book=form(BookForm, AnswerChoice.BOOKED, boutiques=boutiques, pieces=[of]) if boutiques else None,
        not_now=form(DayForm, AnswerChoice.NOT_NOW),
        done_elsewhere=form(DayForm, AnswerChoice.DONE_ELSEWHERE),
        no_longer_mine=form(AnswerForm, AnswerChoice.NO_LONGER_MINE),
    )


def together(
    pieces: list[PieceAsked], boutiques: list[Boutique], *, today: date, data: QueryDict | None = None
) -> BookForm | None:
    """One visit for several pieces; None where there are not several, or no boutique."""
    days = days_for(AnswerChoice.BOOKED, today=today, starts_on=today)
    if len(pieces) < 2 or not boutiques or days is None:
        return None
    return BookForm(
        data, choice=AnswerChoice.BOOKED, days=days, boutiques=boutiques, pieces=pieces, auto_id="together-%s"
    )


class PlaceForm(OwnerForm):
    """The one button of a free place: where, and when by the boutique's clock."""

    form_key = forms.UUIDField()
    boutique = forms.TypedChoiceField()
    start = forms.CharField(max_length=16)

    def __init__(self, data: QueryDict, *, boutiques: list[Boutique]) -> None:
        super().__init__(data)
        field = self.fields["boutique"]
        assert isinstance(field, forms.TypedChoiceField)
        field.choices = [(boutique.code, str(boutique)) for boutique in boutiques]
        field.coerce = {boutique.code: boutique for boutique in boutiques}.__getitem__

    def clean_start(self) -> datetime:
        try:
            start = datetime.fromisoformat(self.cleaned_data["start"])
        except ValueError:
            start = None
        if start is None or start.tzinfo is not None:
            raise forms.ValidationError(_("Please choose a time."), code="start")
        return start

    def wish(self) -> Wish:
        """What the owner asks for. For a valid form."""
        start: datetime = self.cleaned_data["start"]
        return Wish(self.cleaned_data["boutique"], start.date(), start.time())


class CancelForm(OwnerForm):
    """Giving a visit up, and when the owner may be asked again."""

    form_key = forms.UUIDField()
    day = forms.DateField(
        label=_("When may we ask again?"),
        input_formats=["%Y-%m-%d"],
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def __init__(self, data: QueryDict | None = None, *, today: date) -> None:
        super().__init__(data, initial={"day": today + timedelta(days=ASK_AGAIN_DAYS)})
        days = days_for(AnswerChoice.NOT_NOW, today=today, starts_on=today)
        assert days is not None
        self.days = days
        self.fields["day"].widget.attrs |= {"min": days.first.isoformat(), "max": days.last.isoformat()}

    def clean_day(self) -> date:
        return within(self.days, self.cleaned_data["day"])
