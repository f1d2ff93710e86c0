"""What staff tell an owner who asks after a piece in the house, in words: where, until when, for how much."""

from typing import Any

from django.utils.functional import Promise
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from service_center.papers.amounts import amount_written
from service_center.pieces.wording import ENTRY_KINDS
from service_center.workshop.orders.queries.in_short import InShort
from service_center.workshop.orders.rules.steps import Step
from service_center.workshop.words import STEPS

NOT_KNOWN = _("not known yet: the workshop looks at it first")


def answer(found: InShort | None) -> dict[str, Any] | None:
    """The same for a page; None where the piece has no order in the house."""
    if found is None:
        return None
    order = found.order
    return {
        "number": order.number,
        "kind": ENTRY_KINDS[order.kind],
        "step": STEPS[found.step],
        "since": order.step_since,
        "promised_on": order.promised_on,
        "ready_on": order.ready_on if found.step is Step.READY else None,
        "late": found.late,
        "boutique": order.boutique,
        "costs": amount_written(*found.costs, get_language() or "en") if found.costs else NOT_KNOWN,
        "costs_known": found.costs is not None,
        "said": _said(found),
    }


def _said(found: InShort) -> str | Promise:
    """How far the owner knows the price."""
    if found.costs is None:
        return ""
    if found.estimate is None:
        return _("signed for at the counter")
    if found.agreed is None:
        return _("estimated, not agreed yet") if found.step is Step.ESTIMATED else _("estimated")
    return _("agreed") if found.agreed else _("declined: it goes back as it came")
