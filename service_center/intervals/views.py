"""The desk's list of due dates."""

import csv
from collections.abc import Iterator
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from service_center.access.rules import Role, may_open
from service_center.access.signed_in import staff_of
from service_center.intervals import queries
from service_center.intervals.forms import KIND_WORDS, STATE_WORDS, DueFilterForm
from service_center.intervals.queries import DueRow


@require_safe
def due_list(request: HttpRequest) -> HttpResponse:
    """What is due, by the day, and how many stand in each state; ten statements whatever the size of the book."""
    as_of = timezone.localdate()
    form, filters = _asked(request)
    try:
        page = queries.due_page(filters, as_of, after=request.GET.get("after", ""))
    except ValueError as fault:
        raise Http404("no such page") from fault
    counts = queries.counts_by_state(filters, as_of)
    asked = {name: value for name, value in request.GET.items() if value and name != "after"}
    return render(
        request,
        "intervals/due_list.html",
        {
            "form": form,
            "rows": [_shown(row) for row in page.rows],
            "as_of": as_of,
            "states": [
                {
                    "state": state.value,
                    "word": word,
                    "count": min(counts[state], queries.AT_MOST),
                    "shown": f"{min(counts[state], queries.AT_MOST):,}",
                    "more": counts[state] > queries.AT_MOST,
                    "here": filters.state is state,
                    "href": "?" + urlencode({**asked, "state": state.value}),
                }
                for state, word in STATE_WORDS.items()
            ],
            "following": "?" + urlencode({**asked, "after": page.following}) if page.following else "",
            "first": "?" + urlencode(asked) if request.GET.get("after") else "",
            "file_query": urlencode(asked),
            "of_one_boutique": _own_boutique(request),
            "opens_owners": may_open("owners:owner", staff_of(request).role),
        },
    )


@require_safe
def due_file(request: HttpRequest) -> StreamingHttpResponse:
    """The same list as a CSV file for people."""
    _form, filters = _asked(request)
    rows = queries.all_due(filters, timezone.localdate())
    response = StreamingHttpResponse(_lines(rows), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="due.csv"'
    return response


def _asked(request: HttpRequest) -> tuple[DueFilterForm, queries.DueFilters]:
    own = _own_boutique(request)
    form = DueFilterForm(request.GET)
    if own is not None:
        del form.fields["boutique"]
    return form, form.filters(own)


def _own_boutique(request: HttpRequest) -> str | None:
    staff = staff_of(request)
    return staff.boutique if staff.role == Role.BOUTIQUE else None


def _shown(row: DueRow) -> dict[str, object]:
    return {"row": row, "state_word": STATE_WORDS[row.state], "kind_word": KIND_WORDS[row.due.kind]}


class _Echo:
    """Gives each line back instead of keeping it, so that a file of any length streams."""

    def write(self, text: str) -> str:
        return text


def _lines(rows: Iterator[DueRow]) -> Iterator[str]:
    write = csv.writer(_Echo()).writerow
    yield "\ufeff"
    yield write(
        [_(word) for word in ("serial", "model", "owner", "boutique", "kind", "state", "opens", "due", "closes", "why")]
    )
    for row in rows:
        piece = row.stored.piece
        days = (row.due.opens_on, row.due.due_on, row.due.closes_on)
        cells = (piece.serial, piece.model, piece.owner, row.stored.boutique, row.due.kind, row.state, *days, row.why)
        yield write([_safe("" if cell is None else str(cell)) for cell in cells])


def _safe(cell: str) -> str:
    """A spreadsheet takes a cell that begins so for a formula; an apostrophe makes it text."""
    return f"'{cell}" if cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell
