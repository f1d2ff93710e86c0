"""A signature drawn from its points: a small black-on-white picture of our own making."""

import io

from PIL import Image, ImageDraw

from service_center.intake.rules.strokes import HEIGHT, WIDTH, Stroke

PEN = 5


def drawn(strokes: tuple[Stroke, ...]) -> bytes:
    """The signature as PNG, WIDTH by HEIGHT; empty for no strokes."""
    if not strokes:
        return b""
    glass = Image.new("L", (WIDTH, HEIGHT), 255)
    pen = ImageDraw.Draw(glass)
    for stroke in strokes:
        if len(stroke) > 1:
            pen.line(stroke, fill=0, width=PEN, joint="curve")
        for x, y in (stroke[0], stroke[-1]):
            pen.ellipse((x - PEN / 2, y - PEN / 2, x + PEN / 2, y + PEN / 2), fill=0)
    out = io.BytesIO()
    glass.convert("1").save(out, "PNG", optimize=True)
    return out.getvalue()
