"""What several pages of the counter show alike: who pays, what is due, and that a piece is stopped."""

from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from service_center.access.signed_in import staff_of
from service_center.book.models import Piece
from service_center.guarantee import words
from service_center.guarantee.rules import CoveredBy, Decision
from service_center.intake import queries
from service_center.intake.rules import Stop
from service_center.intervals.queries import due_of
from service_center.intervals.rules import because, state_on
from service_center.pieces.wording import PLACES, SERVICE_KINDS, STATES


def guarantee_of(decision: Decision) -> dict[str, Any]:
    """For `intake/guarantee.html`."""
    return {
        "name": words.name_of(decision.covered_by),
        "covered": decision.covered_by is not CoveredBy.NONE,
        "cover": decision.cover,
        "because": words.sentence(decision),
        "notes": words.notes(decision),
        "statutory": words.statutory_note(),
    }


def owed(piece: Piece, today: date) -> list[dict[str, Any]]:
    """For `intake/parts/due.html`: what is due and why. One statement."""
    return [
        {
            "name": SERVICE_KINDS[due.kind],
            "due": due,
            "state": state_on(today, due).value,
            "state_name": STATES[state_on(today, due)],
            "because": because(due, today).sentence,
        }
        for due in due_of(piece, today)
    ]


def stopped(request: HttpRequest, piece: Piece, stop: Stop, *, status: int = 200) -> HttpResponse:
    """Why the piece is not taken in, and what to do; nothing of its owner."""
    drop_off = queries.open_drop_off(piece, staff_of(request)) if stop is Stop.ALREADY_IN else None
    context = {"piece": piece, "stop": stop.value, "place": PLACES[piece.place], "drop_off": drop_off}
    return render(request, "intake/stopped.html", context, status=status)
