"""Papers: every script whole, fonts inside, tagged, and nothing fetched."""

import io
import logging
from concurrent.futures import ThreadPoolExecutor
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread
from urllib.parse import quote

import pytest
from pypdf import PdfReader

from service_center.papers.render import PaperRefusedError, code_picture, render
from service_center.papers.rules import PageSize

NAMES = {
    "Latin": "Žofie Ångström-Łukasiewicz",
    "Greek": "Ελένη Παπαδοπούλου",
    "Cyrillic": "Дарья Сергеевна Ёлкина",
    "Chinese": "王小明",
    "Japanese": "佐藤はなこ",
    "Korean": "김서연",
    "Arabic": "ليلى منصور",
    "Hebrew": "נועה כהן",
}
BODY = """{% extends "papers/page.html" %}{% block title %}Paper{% endblock %}{% block paper %}
<h1>Paper</h1>{{ lines|safe }}{% for name in names %}<p><bdi>{{ name }}</bdi></p><h2>{{ name }}</h2>{% endfor %}
{% endblock %}"""


@pytest.fixture
def paper(tmp_path: Path, settings):
    """A paper of one's own, made by the same templates and the same renderer."""
    (tmp_path / "paper.html").write_text(BODY, encoding="utf-8")
    settings.TEMPLATES = [{**settings.TEMPLATES[0], "DIRS": [*settings.TEMPLATES[0]["DIRS"], tmp_path]}]

    def make(lines="", names=(), size=PageSize.A4, language="en") -> bytes:
        return render("paper.html", {"lines": lines, "names": names}, size=size, language=language)

    return make


def fonts_of(reader: PdfReader) -> dict[str, bool]:
    """Every font of a PDF by name, and whether its glyphs are inside the file."""
    found = {}
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            described = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            inside = any(key in described for key in ("/FontFile", "/FontFile2", "/FontFile3"))
            found[described["/FontName"]] = inside
    return found


def test_names_in_every_script_print_whole(paper, caplog):
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        pdf = paper(names=NAMES.values())
    assert [record.getMessage() for record in caplog.records if ".notdef" in record.getMessage()] == []
    text = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    left_to_right = [name for script, name in NAMES.items() if script not in ("Arabic", "Hebrew")]
    assert [name for name in left_to_right if name not in text] == []
    # Scripts written from the right come out of a PDF in the order they are drawn, Arabic in its joined forms.
    assert all(word in text or word[::-1] in text for word in NAMES["Hebrew"].split())


def test_a_character_that_no_font_has_would_be_noticed(paper, caplog):
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        paper(names=["\U00012000"])  # a cuneiform sign
    assert any(".notdef" in record.getMessage() for record in caplog.records)


def test_every_font_is_inside_the_file(paper):
    fonts = fonts_of(PdfReader(io.BytesIO(paper(names=NAMES.values()))))
    assert len(fonts) >= 2
    assert all(fonts.values())
    assert any("WenQuanYi" in name for name in fonts)
    assert any("DejaVu" in name for name in fonts)


def test_a_paper_is_tagged_and_says_its_language_and_title(paper):
    root = PdfReader(io.BytesIO(paper(language="de"))).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "de"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    metadata = root["/Metadata"].get_object().get_data().decode()
    assert "pdfuaid" in metadata
    assert "Paper" in metadata


@pytest.mark.parametrize(("size", "millimetres"), [(PageSize.A4, (210, 297)), (PageSize.LETTER, (215.9, 279.4))])
def test_a_paper_has_the_size_the_printer_holds(paper, size, millimetres):
    box = PdfReader(io.BytesIO(paper(size=size))).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx([side / 25.4 * 72 for side in millimetres], abs=0.1)


def test_a_code_is_drawn_inside_the_paper(paper):
    lines = f'<img src="{code_picture("FH21-000123")}" alt="Code of the serial FH21-000123">'
    assert "Code of the serial FH21-000123" in str(_structure(PdfReader(io.BytesIO(paper(lines=lines)))))


OUTWARD = {
    "picture": '<img src="{}" alt="x">',
    "stylesheet": '<link rel="stylesheet" href="{}">',
    "import": "<style>@import url({});</style>",
    "font": "<style>@font-face {{ font-family: x; src: url({}) }} p {{ font-family: x }}</style><p>x</p>",
    "background": '<p style="background: url({})">x</p>',
    "list mark": '<ul><li style="list-style-image: url({})">x</li></ul>',
    "content": "<style>p::before {{ content: url({}) }}</style><p>x</p>",
    "object": '<object data="{}"></object>',
    "embed": '<embed src="{}">',
    "attachment": '<a rel="attachment" href="{}">x</a>',
}


@pytest.fixture(scope="module")
def listener():
    """A real web server on loopback that notes who asks."""
    asked: list[str] = []

    class Note(BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            self.send_error(404)

        def log_message(self, *args):
            """Quiet."""

    server = HTTPServer(("127.0.0.1", 0), Note)
    thread = Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}", asked
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.mark.parametrize("way", OUTWARD)
def test_no_way_out_of_a_paper_leads_to_the_network(paper, listener, way):
    address, asked = listener
    with pytest.raises(PaperRefusedError, match="fetches nothing"):
        paper(lines=OUTWARD[way].format(f"{address}/{way.replace(' ', '-')}"))
    assert asked == []


@pytest.mark.parametrize("way", OUTWARD)
def test_no_way_out_of_a_paper_leads_to_a_file_of_this_machine(paper, tmp_path, way):
    secret = tmp_path / "secret.txt"
    secret.write_text("the secret of the house")
    with pytest.raises(PaperRefusedError, match="fetches nothing"):
        paper(lines=OUTWARD[way].format(secret.as_uri()))


DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><image href="{}" width="9" height="9"/></svg>'


@pytest.mark.parametrize("wrap", [str, lambda svg: f'<img alt="x" src="data:image/svg+xml,{quote(svg)}">'])
def test_a_drawing_with_a_way_out_is_left_out_and_fetches_nothing(paper, listener, wrap, caplog):
    """The renderer swallows a refusal inside a drawing and goes on without it."""
    address, asked = listener
    pdf = paper(lines=wrap(DRAWING.format(f"{address}/drawing")))
    assert asked == []
    assert any("Failed to" in record.getMessage() for record in caplog.records)
    assert "Paper" in PdfReader(io.BytesIO(pdf)).pages[0].extract_text()


def test_what_an_owner_writes_is_text_and_nothing_else(paper):
    pdf = paper(names=['<img src="file:///etc/hostname">'])
    assert '<img src="file:///etc/hostname">' in PdfReader(io.BytesIO(pdf)).pages[0].extract_text()


def test_papers_asked_for_at_once_are_all_made(paper):
    with ThreadPoolExecutor(4) as pool:
        papers = list(pool.map(lambda name: paper(names=[name]), NAMES.values()))
    texts = [PdfReader(io.BytesIO(pdf)).pages[0].extract_text() for pdf in papers]
    for script, text in zip(NAMES, texts, strict=True):
        if script not in ("Arabic", "Hebrew"):
            assert NAMES[script] in text


def _structure(reader: PdfReader, node=None, depth=0):
    """The tag tree as nested lists of (tag, alternative text)."""
    node = node or reader.trailer["/Root"]["/StructTreeRoot"]
    children = node.get("/K", [])
    children = children if isinstance(children, list) else [children]
    nested = [_structure(reader, kid.get_object(), depth + 1) for kid in children if hasattr(kid.get_object(), "get")]
    return [node.get("/S"), node.get("/Alt"), nested]
