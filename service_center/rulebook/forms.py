"""What staff write down about a rule, and about the end of one."""

from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import ServiceKind, Use
from service_center.intervals.queries import rulebook
from service_center.intervals.rules import Rule, Scope
from service_center.intervals.rules.rulebook import (
    ALWAYS,
    BeforeItsForceError,
    Change,
    NothingOtherwiseError,
    applying,
    equal_to,
    followers,
)
from service_center.rulebook import wording

LAST_DAY = date(2199, 12, 31)
MOST_MONTHS = 600
REFERENCES_OFFERED = 1_000
ANY_USE = "any"


def _day_field(label: Any, help_text: Any) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date", "min": ALWAYS, "max": LAST_DAY}, format="%Y-%m-%d")
    return forms.DateField(label=label, help_text=help_text, widget=widget, input_formats=["%Y-%m-%d"])


def _within_the_book(day: date) -> date:
    if not ALWAYS <= day <= LAST_DAY:
        raise forms.ValidationError(_("A day of a book lies between 1800-01-01 and 2199-12-31."))
    return day


def _months(label: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, min_value=0, max_value=MOST_MONTHS, widget=forms.NumberInput(attrs={"inputmode": "numeric"})
    )


def _reason() -> forms.CharField:
    return forms.CharField(
        label=_("Why"),
        required=False,
        max_length=500,
        help_text=_("Kept in the history of the rules. No names of owners, please."),
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class RuleForm(forms.Form):
    """A new rule. Only the value of the chosen scope counts; what stands in the other two is left aside."""

    kind = forms.ChoiceField(
        label=_("Kind of service"), choices=[(kind.value, word) for kind, word in wording.KINDS.items()],
        widget=forms.RadioSelect,
    )  # fmt: skip
    scope = forms.ChoiceField(
        label=_("For which pieces"), choices=[(scope.value, word) for scope, word in wording.SCOPES.items()],
        widget=forms.RadioSelect,
    )  # fmt: skip
    calibre = forms.ChoiceField(label=_("Calibre"), required=False)
    model = forms.CharField(
        label=_("Model"), required=False, max_length=64, strip=True, help_text=_("Its reference, as in the book.")
    )
    piece = forms.CharField(
        label=_("Piece"), required=False, max_length=64, strip=True, help_text=_("Its serial, as in the book.")
    )
    use = forms.ChoiceField(
        label=_("How it is worn"),
        choices=[(use.value if use else ANY_USE, word) for use, word in wording.USE_CHOICES.items()],
        initial=ANY_USE,
        widget=forms.RadioSelect,
    )
    opens_months = _months(_("Opens after, in months"))
    due_months = _months(_("Due after, in months"))
    closes_months = _months(_("Closes after, in months"))
    in_force_from = _day_field(_("In force from"), _("Intervals that begin on this day or later count by it."))
    covers_running = forms.BooleanField(
        label=_("It covers intervals that are already running, too"),
        required=False,
        help_text=_("Without the tick nothing moves that has begun before; with it, dates move on the day in force."),
    )
    reason = _reason()

    def __init__(
        self, data: QueryDict | None = None, *, written: tuple[Rule, ...], initial: dict[str, Any] | None = None
    ) -> None:
        super().__init__(data, initial=initial)
        self.written = written
        calibre = self.fields["calibre"]
        assert isinstance(calibre, forms.ChoiceField)
        calibre.choices = [("", _("Choose")), *((code, code) for code in rulebook.calibres())]
        self.references = rulebook.references(REFERENCES_OFFERED)
        self.fields["model"].widget.attrs |= {"list": "references", "autocomplete": "off"}
        self.fields["piece"].widget.attrs |= {"autocomplete": "off", "autocapitalize": "characters"}

    def clean_in_force_from(self) -> date:
        return _within_the_book(self.cleaned_data["in_force_from"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        self._check_scope(data)
        self._check_months(data)
        if not self.errors:
            other = equal_to(self.rule(), applying(self.written))
            if other:
                self.add_error(None, wording.equal_rule(other))
        return data

    def _check_scope(self, data: dict[str, Any]) -> None:
        if not data.get("scope") or data["scope"] == Scope.HOUSE:
            return
        scope = Scope(data["scope"])
        value = data.get(scope.value, "")
        if scope.value in self.errors:
            return
        if not value:
            self.add_error(scope.value, _("The rule is for one of these: say for which."))
        elif not rulebook.exists(scope, value):
            self.add_error(scope.value, _("The book has none of that name."))

    def _check_months(self, data: dict[str, Any]) -> None:
        opens, due, closes = (data.get(name) for name in ("opens_months", "due_months", "closes_months"))
        if opens is not None and due is not None and due < opens:
            self.add_error("due_months", _("It cannot be due before it opens."))
        if due is not None and closes is not None and closes < due:
            self.add_error("closes_months", _("It cannot close before it is due."))

    def rule(self) -> Rule:
        """The rule that was written down; it has no code yet."""
        data = self.cleaned_data
        scope = Scope(data["scope"])
        return Rule(
            code="",
            kind=ServiceKind(data["kind"]),
            scope=scope,
            scope_value="" if scope is Scope.HOUSE else data[scope.value],
            use=None if data["use"] == ANY_USE else Use(data["use"]),
            opens=data["opens_months"],
            due=data["due_months"],
            closes=data["closes_months"],
            in_force_from=data["in_force_from"],
            covers_running=data["covers_running"],
        )

    def change(self) -> Change:
        """What saving does."""
        return Change(added=(self.rule(),))


class EndForm(forms.Form):
    """How a rule ends: it is followed from a day on, or taken back as though it had never been written."""

    FOLLOW, TAKE_BACK = "follow", "take_back"

    how = forms.ChoiceField(
        label=_("How it ends"),
        choices=[
            (FOLLOW, _("From a day on, other months count")),
            (TAKE_BACK, _("It is taken back, as though it had never been written")),
        ],
        widget=forms.RadioSelect,
    )
    day = _day_field(_("From this day on"), _("A rule follows this one: with the months that would otherwise apply."))
    covers_running = forms.BooleanField(
        label=_("Intervals that are already running change, too"),
        required=False,
        help_text=_(
            "Without the tick, intervals that began before that day go on by this rule until the next service."
        ),
    )
    reason = _reason()

    def __init__(
        self,
        data: QueryDict | None = None,
        *,
        rule: Rule,
        written: tuple[Rule, ...],
        as_of: date,
        initial: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(data, initial=initial)
        self.rule, self.written = rule, written
        self.to_come = rule.in_force_from > as_of
        self.fields["day"].required = False
        self._followers: tuple[Rule, ...] = ()

    def clean_day(self) -> date | None:
        day: date | None = self.cleaned_data["day"]
        return _within_the_book(day) if day else None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("how") == self.FOLLOW and "day" not in self.errors:
            self._follow(data)
        return data

    def _follow(self, data: dict[str, Any]) -> None:
        if data.get("day") is None:
            self.add_error("day", _("Say from which day on."))
            return
        piece = rulebook.any_piece_under(self.rule)
        try:
            self._followers = followers(
                self.rule, self.written, piece, data["day"], covers_running=data["covers_running"]
            )
        except BeforeItsForceError:
            self.add_error("day", _("The rule is in force from %s: choose a later day, or take it back.")
                           % wording.since(self.rule.in_force_from))  # fmt: skip
        except NothingOtherwiseError:
            self.add_error("how", _(
                "Without this rule nothing would apply to its pieces, and no rule can say that. "
                "Take it back, or add another rule for them first."
            ))  # fmt: skip
        else:
            other = next((found for rule in self._followers if (found := equal_to(rule, self.written))), None)
            if other:
                self.add_error("day", wording.equal_rule(other))

    def change(self) -> Change:
        """What saving does."""
        if self.cleaned_data["how"] == self.TAKE_BACK:
            return Change(removed=(self.rule,))
        return Change(added=self._followers, ended=(self.rule,))

    @property
    def deed(self) -> str:
        """Its name in the trail."""
        return "take_back_rule" if self.cleaned_data["how"] == self.TAKE_BACK else "follow_rule"
