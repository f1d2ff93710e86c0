"""What a piece's page is made of on a day: what is due and why, what was measured, who holds it, what happened."""

import json
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.utils import translation
from django.utils.translation import get_language_info
from django.utils.translation import gettext_lazy as _

from service_center.access.models import Staff
from service_center.access.rules import COUNTER, DESK, WORK, Role
from service_center.book.countries import name_of_country
from service_center.book.models import Piece
from service_center.book.rules import Place, ServiceKind, Status
from service_center.book.wording import FALLBACK, language_of, name_of_language
from service_center.guarantee import words as guarantee_words
from service_center.guarantee.queries import decision_of
from service_center.intervals.owner_words import why_now
from service_center.intervals.queries import due_and_readings_of
from service_center.intervals.report import due_report
from service_center.intervals.rules import Due, because, state_on
from service_center.letters.desk.words import GROUNDS
from service_center.letters.queries.bounces import stop_of
from service_center.letters.queries.grounds import latest_ground
from service_center.letters.returned.words import why_stopped
from service_center.letters.rules.words import Ground
from service_center.pieces import queries, wording
from service_center.pieces.evidence import measured
from service_center.pieces.forms import AsOfForm
from service_center.pieces.tightness import known_tightness
from service_center.pieces.timeline import Sort, timeline
from service_center.pieces.timeline.moves import holding_on

# A timeline longer than this is folded: the rest is there, one press away.
UNFOLDED = 50
SORTS = {
    Sort.WORK: _("Work"),
    Sort.READINGS: _("Readings"),
    Sort.LETTERS: _("Letters and answers"),
    Sort.HANDS: _("Who held it"),
    Sort.CORRECTIONS: _("Corrections"),
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What the address asks for: the day the page speaks of, the sort of moment, and who asks on which day."""

    as_of: date
    today: date
    sort: Sort | None
    staff: Staff

    def query(self, *, sort: Sort | None) -> str:
        """The same page with another sort of moment."""
        parts = {}
        if self.as_of != self.today:
            parts["as_of"] = self.as_of.isoformat()
        if sort:
            parts["show"] = sort.value
        return f"?{urlencode(parts)}"


def context_of(piece: Piece, asked: Asked, form: AsOfForm) -> dict[str, Any]:
    """Everything about one piece, from the facts dated up to a day. Statements: a constant number."""
    staff, as_of = asked.staff, asked.as_of
    at_today = as_of == asked.today
    owner = piece.owner if queries.shows_owner(piece, staff) else None
    due, series = due_and_readings_of(piece, as_of)
    by_kind = {one.kind: one for one in due}
    stopped = stop_of(owner.email) if owner else None
    ground = latest_ground(owner) if owner else None
    return {
        "piece": piece,
        "owner": owner,
        "gone": piece.status in {Status.LOST, Status.STOLEN},
        "holding": holding_on(piece, as_of),
        "status": wording.STATUSES[piece.status] if piece.status else "",
        "use": wording.USES[piece.use] if piece.use else "",
        "as_of": as_of,
        "at_today": at_today,
        "ahead": as_of > asked.today,
        "today": asked.today,
        "as_of_form": form,
        "due": [_due(piece, one, as_of, language_of(owner) if owner else FALLBACK) for one in due],
        "measured": measured(by_kind.get(ServiceKind.OVERHAUL), series),
        "tightness": known_tightness(piece, by_kind.get(ServiceKind.TIGHTNESS), as_of),
        "guarantee": _guarantee(piece, as_of),
        "happened": _happened(piece, asked),
        "spoken": name_of_language(owner.language) if owner else "",
        "country": name_of_country(owner.country) if owner else "",
        "stopped": stopped,
        "why_stopped": why_stopped(stopped) if stopped else "",
        "ground": ground if ground and ground.ground != Ground.WITHDRAWN else None,
        "ground_name": GROUNDS[Ground(ground.ground)] if ground else "",
        "works": staff.role in WORK and at_today,
        "reads_letters": staff.role in DESK,
        "opens_drop_offs": _opens_drop_offs(staff),
        "takes_in": staff.role in COUNTER and piece.place == Place.OWNER and at_today,
    }


def _opens_drop_offs(staff: Staff) -> str:
    """Whose drop-offs they may open: all, those of their boutique (by its code), or none."""
    if staff.role == Role.BOUTIQUE:
        return staff.boutique
    return "all" if staff.role in COUNTER else "none"


def _due(piece: Piece, due: Due, as_of: date, language: str) -> dict[str, Any]:
    state = state_on(as_of, due)
    with translation.override(language):
        to_owner = why_now(due, as_of)
    return {
        "due": due,
        "kind": due.kind.value,
        "name": wording.SERVICE_KINDS[due.kind],
        "state": state.value,
        "state_name": wording.STATES[state],
        "because": because(due, as_of).sentence,
        "to_owner": to_owner,
        "language": language,
        "language_name": get_language_info(language)["name_translated"],
        "record": json.dumps(due_report(piece.serial, due, as_of), ensure_ascii=False, indent=2),
    }


def _guarantee(piece: Piece, as_of: date) -> dict[str, Any]:
    decision = decision_of(piece, as_of, country=piece.owner.country if piece.owner else "")
    return {
        "name": guarantee_words.name_of(decision.covered_by),
        "covered": decision.cover is not None,
        "sentence": guarantee_words.sentence(decision),
        "notes": guarantee_words.notes(decision),
        "law": guarantee_words.statutory_note(),
    }


def _happened(piece: Piece, asked: Asked) -> dict[str, Any]:
    whole = timeline(piece, asked.as_of)
    shown, there = whole.of(asked.sort), whole.sorts()
    return {
        "known": shown.known[:UNFOLDED],
        "folded": shown.known[UNFOLDED:],
        "later": shown.later,
        "count": len(shown.known),
        "all": asked.query(sort=None),
        "today_query": f"?{urlencode({'show': asked.sort.value})}" if asked.sort else "",
        "sort": asked.sort,
        "sorts": [
            {"name": name, "href": asked.query(sort=sort), "here": sort is asked.sort}
            for sort, name in SORTS.items()
            if sort in there
        ],
    }
