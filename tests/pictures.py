"""Photographs as cameras make them."""

import io
from typing import Any

from PIL import Image


def jpeg(size: tuple[int, int] = (80, 60), **save: Any) -> bytes:
    """A small photograph: red on the left, blue on the right."""
    image = Image.new("RGB", size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=95, **save)
    return out.getvalue()
