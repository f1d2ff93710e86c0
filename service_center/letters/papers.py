"""A letter on paper: the words that its owner would have had by mail."""

from datetime import datetime

from django.conf import settings

from service_center.letters.composing import letter as compose
from service_center.letters.models import Letter
from service_center.letters.queries.contents import contents_of
from service_center.papers.render import code_picture, render
from service_center.papers.rules import LETTER_PAPER, PageSize


def on_paper(letter: Letter, links: compose.Links, now: datetime) -> bytes:
    """The letter as PDF, in its owner's language, with the links that open its page printed and as a code."""
    content = contents_of([letter], now=now)[letter.pk]
    written = compose.write(content, links)
    context = {
        "letter": letter,
        "owner": letter.owner,
        "subject": written.subject,
        "paragraphs": written.unwrapped.strip().split("\n\n"),
        "contact": settings.MAIL_FROM,
        "code": code_picture(links.page),
    }
    size = PageSize.LETTER if letter.owner.country in LETTER_PAPER else PageSize.A4
    return render("letters/paper.html", context, size=size, language=letter.language)
