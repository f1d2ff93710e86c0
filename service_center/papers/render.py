"""Making a PDF: page, fonts, language, tags for screen readers."""

from threading import Lock
from typing import Any

import segno
from django.conf import settings
from django.template.loader import render_to_string
from django.utils import translation
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError

from service_center.papers.fetcher import InsideOnly
from service_center.papers.rules import PageSize

# The text libraries below the renderer keep one font map for the process: one paper at a time.
ONE_AT_A_TIME = Lock()


class PaperRefusedError(ValueError):
    """The paper asked for something from outside itself; nothing was fetched and no paper was made."""


def render(
    template: str, context: dict[str, Any], *, size: PageSize, language: str, style: str = "papers/page.css"
) -> bytes:
    """A PDF/UA-1 file from a template that extends `papers/page.html`, in one of settings.LANGUAGES.

    Fonts come from the system and are embedded. Raises PaperRefusedError for anything that would be fetched.
    """
    with translation.override(language):
        page = {"language": language, "house_name": settings.HOUSE_NAME, "page_size": size.value}
        text = render_to_string(template, {**page, **context})
        rules = render_to_string(style, page)
    with ONE_AT_A_TIME:
        try:
            fonts = FontConfiguration()
            sheet = CSS(string=rules, url_fetcher=InsideOnly(), font_config=fonts)
            pdf: bytes = HTML(string=text, url_fetcher=InsideOnly()).write_pdf(
                stylesheets=[sheet], font_config=fonts, pdf_variant="pdf/ua-1"
            )
        except FatalURLFetchingError as refused:
            raise PaperRefusedError(str(refused)) from refused
    return pdf


def code_picture(text: str) -> str:
    """A QR code of a text as a data: address, for an `img` with an `alt` of its own. Source: ISO/IEC 18004."""
    picture: str = segno.make(text, error="m", micro=False).svg_data_uri(border=2, dark="#000", light="#fff")
    return picture
