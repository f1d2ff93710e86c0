"""The order list on paper, to copy into the supplier's form or to send along."""

from collections.abc import Sequence
from datetime import date

from service_center.papers.render import render
from service_center.papers.rules import PageSize
from service_center.planning.parts.order_list import PartRow

SIZES = (PageSize.A4, PageSize.LETTER)


def order_paper(
    now: Sequence[PartRow], later: Sequence[PartRow], *, as_of: date, size: PageSize, language: str
) -> bytes:
    """What to order today and by when the rest, as PDF."""
    context = {"now": now, "later": later, "as_of": as_of}
    return render("planning/parts_paper.html", context, size=size, language=language)
