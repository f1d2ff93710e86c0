"""The steps in words, why a file is not kept, and why no day was worked out."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.intake.drafts.started import Step
from service_center.intake.photographs.decoding import Refusal
from service_center.planning.queries.promising import NoQuote

STEPS: dict[Step, str | Promise] = {
    Step.STORY: _("What it is about"),
    Step.CONDITION: _("Condition"),
    Step.READINGS: _("Readings"),
    Step.PROMISE: _("Promise and price"),
    Step.SIGN: _("Signature"),
}
REFUSALS: dict[Refusal, str | Promise] = {
    Refusal.EMPTY: _("the file is empty."),
    Refusal.TOO_LARGE: _("a photograph has at most %(megabytes)s MB, and a drop-off at most %(most)s of them."),
    Refusal.TOO_MANY_PIXELS: _("it has more pixels than the house keeps: 40 million of a JPEG, 20 million of others."),
    Refusal.NO_PHOTOGRAPH: _("it is no JPEG, PNG or WebP picture, whatever its name says."),
    Refusal.HEIC: _(
        "it is a HEIC picture, which the house cannot read. Take it here with “Take a photograph”, or set the camera to "
        "JPEG in its settings and take it again."
    ),
    Refusal.BROKEN: _("the picture is broken or cut off."),
    Refusal.NOT_WRITTEN: _(
        "the server could not write it. Please tell whoever looks after the machine: its disk may be full."
    ),
    Refusal.TOO_MANY: _("a drop-off has at most %(most)s photographs."),
}
# A strap changed at the counter needs no explaining.
NO_QUOTE: dict[NoQuote | None, str | Promise] = {
    NoQuote.NO_BENCHES: _("It is not worked out from the benches: the book has no watchmakers and no bench hours yet."),
    NoQuote.NO_SKILL: _("It is not worked out from the benches: nobody in the book does such pieces."),
    NoQuote.TOO_FAR: _(
        "It is not worked out: the benches are full for longer than their days are known. Ask the desk."
    ),
}
