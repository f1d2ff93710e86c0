"""The desk's pages of the words in letters: what is whose, writing, looking, trying, and going back."""

from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.signed_in import staff_of
from service_center.letters import actions
from service_center.letters.composing import letter as compose
from service_center.letters.composing.texts import SLOTS, our_text
from service_center.letters.composing.wording import Wording
from service_center.letters.desk.views.letters import LETTER_POLICY
from service_center.letters.forms import LONGEST_NUMBER, PreviewForm, WordingForm
from service_center.letters.models import HouseText
from service_center.letters.queries import preview
from service_center.letters.queries import wording as queries
from service_center.letters.wording.examples import EXAMPLES
from service_center.letters.wording.words import GROUP_OF, GROUPS, LETTERS, ORDERS, RECEIPT, VISITS, Group, label_of

FIRST_EXAMPLE = next(iter(EXAMPLES))


@require_safe
def wording(request: HttpRequest, language: str = "en") -> HttpResponse:
    """Which texts are the house's own in a language, and which of ours changed since. One statement."""
    latest = queries.latest_texts(_known(language))
    return render(
        request,
        "letters/wording.html",
        {
            "languages": [{"code": code, "name": name, "here": code == language} for code, name in settings.LANGUAGES],
            "spoken": language,
            "groups": [_tally(group, latest) for group in GROUPS.values()],
            "changed": [
                {"group": GROUP_OF[code], "label": label_of(code)}
                for code, saved in latest.items()
                if code in GROUP_OF and queries.ours_has_changed(saved)
            ],
        },
    )


@require_http_methods(["GET", "HEAD", "POST"])
def wording_group(request: HttpRequest, language: str, slug: str) -> HttpResponse:
    """Texts that belong together: save them, or send oneself a letter with them before they are saved."""
    group, latest = _group(slug), queries.latest_texts(_known(language))
    form = WordingForm(request.POST or None, group=group, language=language, latest=latest)
    look = _Look.asked(request, group)
    if request.method == "POST" and form.is_valid():
        if request.POST.get("do") == "test":
            _try_it(request, form, look)
        elif _save(request, form):
            return redirect("letters:wording_group", language=language, slug=slug)
    return render(
        request,
        "letters/wording_group.html",
        {
            "group": group,
            "spoken": language,
            "language_name": dict(settings.LANGUAGES)[language],
            "form": form,
            "rows": list(form.rows()),
            "look": look.form,
            "staff_address": staff_of(request).email,
        },
    )


@require_http_methods(["GET", "HEAD", "POST"])
def wording_preview(request: HttpRequest, language: str, slug: str) -> HttpResponse:
    """The letter in the frame beside the texts, in the words of the form, or in those that are saved."""
    group = _group(slug)
    form = WordingForm(
        request.POST or None, group=group, language=_known(language), latest=queries.latest_texts(language)
    )
    look = _Look.asked(request, group)
    if request.method == "POST" and not form.is_valid():
        return _in_frame(request, {"rows": [row for row in form.rows() if row.field.errors]})
    texts = form.texts() if request.method == "POST" else {}
    content = look.content(preview.wording_as_written(language, texts))
    if content is None:
        return _in_frame(request, {"trouble": look.trouble})
    written = compose.write(content, compose.masked_links())
    if request.POST.get("as") == "text":
        return _in_frame(request, {"written": written, "spoken": language})
    return HttpResponse(
        written.html, headers={"Content-Security-Policy": LETTER_POLICY, "Referrer-Policy": "no-referrer"}
    )


@require_safe
def wording_text(request: HttpRequest, language: str, code: str) -> HttpResponse:
    """Everything that one text ever was, who wrote it and when. One statement."""
    if code not in SLOTS:
        raise Http404("no such text")
    versions = queries.versions_of(_known(language), code)
    ours = our_text(code, language)
    return render(
        request,
        "letters/wording_text.html",
        {
            "group": GROUP_OF[code],
            "code": code,
            "label": label_of(code),
            "spoken": language,
            "language_name": dict(settings.LANGUAGES)[language],
            "ours": ours,
            "own": bool(versions and versions[0].text),
            "ours_then": versions[0].ours if versions and queries.ours_has_changed(versions[0]) else "",
            "versions": versions,
        },
    )


@require_POST
def wording_back(request: HttpRequest, language: str, code: str) -> HttpResponse:
    """Take our text again, in one step."""
    if code not in SLOTS:
        raise Http404("no such text")
    seen = request.POST.get("seen", "")
    number = int(seen) if seen.isascii() and seen.isdigit() and len(seen) < LONGEST_NUMBER else 0
    try:
        taken = actions.back_to_ours(_known(language), code, seen=number, by=staff_of(request), now=timezone.now())
    except actions.SavedMeanwhile:
        messages.warning(request, _("Nothing was changed: somebody saved another text meanwhile. It stands below."))
    else:
        if taken:
            messages.success(request, _("Our text stands again. Yours is kept below."))
        else:
            messages.info(request, _("It is our text already."))
    return redirect("letters:wording_text", language=language, code=code)


@dataclass(slots=True)
class _Look:
    """On what the letter is looked at: which letter, and about what."""

    form: PreviewForm
    letter: str
    example: str
    serial: str
    trouble: str = field(default="", init=False)

    @classmethod
    def asked(cls, request: HttpRequest, group: Group) -> "_Look":
        """What was chosen; the group's own letter about the first example otherwise."""
        begin = {"letter": group.letter, "example": FIRST_EXAMPLE}
        form = PreviewForm(request.POST or None, initial=begin)
        chosen = form.cleaned_data if form.is_bound and (form.is_valid() or form.errors) else {}
        letter = chosen.get("letter") or group.letter
        example = chosen.get("example") or FIRST_EXAMPLE
        return cls(form, letter, example, (chosen.get("serial") or "").strip())

    def content(self, wording: Wording) -> compose.Content | None:
        """What the letter says; None with the trouble told where the piece gives none."""
        today = timezone.localdate()
        if self.letter in VISITS:
            return preview.example_visit(EXAMPLES[self.example], self.letter, wording, today)
        if self.letter in RECEIPT:
            return preview.example_receipt(EXAMPLES[self.example], wording, today)
        if self.letter in ORDERS:
            return preview.example_order(EXAMPLES[self.example], self.letter, wording, today)
        if not self.serial:
            return preview.example_letter(EXAMPLES[self.example], self.letter, wording, today)
        piece = preview.piece_of(self.serial)
        if piece is None:
            self.trouble = _("The book holds no piece with the serial number “%(serial)s”.") % {"serial": self.serial}
            return None
        told = preview.letter_about(piece, self.letter, wording, today)
        if told is None:
            self.trouble = _("“%(letter)s”: nothing of the kind falls due for %(serial)s.") % {
                "letter": LETTERS[self.letter],
                "serial": piece.serial,
            }
        return told


def _try_it(request: HttpRequest, form: WordingForm, look: _Look) -> None:
    """Send the letter to whoever is signed in, in the words of the form; nothing is saved."""
    content = look.content(preview.wording_as_written(form.language, form.texts()))
    if content is None:
        messages.error(request, look.trouble)
        return
    staff = staff_of(request)
    try:
        actions.send_test(content, case=look.letter, by=staff)
    except actions.NotSent as why:
        messages.error(request, str(why))
    else:
        told = _("A test went to %(address)s. Nothing was saved.")
        messages.success(request, told % {"address": staff.email})
        if look.letter in VISITS or look.letter in RECEIPT:
            messages.info(
                request, _("What a real one has attached, a calendar entry or the receipt, is not in a test.")
            )


def _save(request: HttpRequest, form: WordingForm) -> bool:
    try:
        changed = actions.save_texts(
            form.language, form.texts(), seen=form.seen(), by=staff_of(request), now=timezone.now()
        )
    except actions.SavedMeanwhile as theirs:
        form.somebody_was_first(theirs.rows)
        return False
    if changed:
        messages.success(request, _("Saved. Letters that go out from now on say so."))
    else:
        messages.info(request, _("Nothing was changed."))
    return True


def _in_frame(request: HttpRequest, context: dict[str, Any]) -> HttpResponse:
    """A page for the frame: the plain text, or why there is nothing to see."""
    response = render(request, "letters/wording_frame.html", context)
    response.headers["Content-Security-Policy"] = (
        "default-src 'none'; style-src 'self'; img-src 'self'; frame-ancestors 'self'"
    )
    return response


def _tally(group: Group, latest: dict[str, HouseText]) -> dict[str, Any]:
    own = [code for code in group.codes if code in latest and latest[code].text]
    return {"group": group, "count": len(group.codes), "own": len(own)}


def _known(language: str) -> str:
    if language not in dict(settings.LANGUAGES):
        raise Http404("no such language")
    return language


def _group(slug: str) -> Group:
    if slug not in GROUPS:
        raise Http404("no such texts")
    return GROUPS[slug]
