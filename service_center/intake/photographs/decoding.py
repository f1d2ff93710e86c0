"""A photograph written anew: decoded, turned upright, made smaller, and saved without anything but its pixels.

What is no photograph, or too much of one, is refused before it is decoded where the header says so
(design/reliability.md, F19; libraries.md, A7).
"""

import io
import struct
import zlib
from dataclasses import dataclass
from enum import StrEnum
from threading import Lock
from typing import IO

from PIL import Image, ImageOps

MEGABYTE = 1_000_000
MOST_BYTES = 15 * MEGABYTE
MOST_PIXELS = 40_000_000
LONG_SIDE, SMALL_SIDE = 2_000, 480
FORMATS = ("JPEG", "PNG", "WEBP")
# A picture of 40 megapixels takes 120 MB while it is decoded: one at a time in a process.
ONE_AT_A_TIME = Lock()
# What the library raises for files that are cut off, or only pretend.
BROKEN = (OSError, SyntaxError, ValueError, EOFError, IndexError, KeyError, OverflowError, struct.error, zlib.error)


class Refusal(StrEnum):
    """Why a file is not kept."""

    EMPTY = "empty"
    TOO_LARGE = "too_large"
    TOO_MANY_PIXELS = "too_many_pixels"
    NO_PHOTOGRAPH = "no_photograph"
    BROKEN = "broken"
    TOO_MANY = "too_many"


class NotKept(ValueError):  # noqa: N818  # a refusal, named as the counter would say it
    """The file is no photograph that the house keeps."""

    def __init__(self, because: Refusal) -> None:
        self.because = because
        super().__init__(because.value)


@dataclass(frozen=True, slots=True)
class Picture:
    """A photograph as the house keeps it: two JPEG files, the long side at most LONG_SIDE and SMALL_SIDE pixels."""

    full: bytes
    small: bytes
    width: int
    height: int


def written_anew(file: IO[bytes], *, size: int) -> Picture:
    """The pixels of a photograph in files of our own. Raises NotKept."""
    if size == 0:
        raise NotKept(Refusal.EMPTY)
    if size > MOST_BYTES:
        raise NotKept(Refusal.TOO_LARGE)
    with ONE_AT_A_TIME:
        return _decoded(file)


def _decoded(file: IO[bytes]) -> Picture:
    try:
        opened = Image.open(file, formats=FORMATS)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise NotKept(Refusal.TOO_MANY_PIXELS) from bomb
    except BROKEN as error:
        raise NotKept(Refusal.NO_PHOTOGRAPH) from error
    with opened as image:
        if image.width * image.height > MOST_PIXELS:
            raise NotKept(Refusal.TOO_MANY_PIXELS)
        try:
            # A JPEG decodes straight to a half or a quarter, which is faster and takes less.
            image.draft("RGB", (LONG_SIDE, LONG_SIDE))
            upright = ImageOps.exif_transpose(_on_white(image))
        except BROKEN as error:
            raise NotKept(Refusal.BROKEN) from error
    upright.thumbnail((LONG_SIDE, LONG_SIDE))
    full = _jpeg(upright, quality=85)
    width, height = upright.size
    upright.thumbnail((SMALL_SIDE, SMALL_SIDE))
    return Picture(full, _jpeg(upright, quality=80), width, height)


def _on_white(image: Image.Image) -> Image.Image:
    """The picture in plain colours; what could be seen through is white. Keeps how the camera was held."""
    held = image.getexif().get(0x0112, 1)
    if image.has_transparency_data:
        seen = image.convert("RGBA")
        plain = Image.new("RGB", seen.size, "white")
        plain.paste(seen, mask=seen.getchannel("A"))
    else:
        plain = image.convert("RGB")
    plain.info = {}
    plain.getexif().clear()
    plain.getexif()[0x0112] = held
    return plain


def _jpeg(image: Image.Image, *, quality: int) -> bytes:
    """Pixels alone: a picture of its own, so that nothing that came with the file goes along."""
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()
