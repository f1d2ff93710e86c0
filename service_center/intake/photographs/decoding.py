"""A photograph written anew: decoded, turned upright, made smaller, and saved without anything but its pixels.

What is no photograph, or too much of one, is refused before it is decoded where the header says so
(design/reliability.md, F19; libraries.md, A7).
"""

import io
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from threading import Lock
from typing import IO

from PIL import Image, ImageFile
from PIL.ExifTags import Base
from PIL.Image import Transpose

MEGABYTE = 1_000_000
MOST_BYTES = 15 * MEGABYTE
# A JPEG is decoded straight to a smaller picture; the others whole first, WebP in 16 bytes a pixel.
MOST_PIXELS = {"JPEG": 40_000_000, "MPO": 40_000_000, "PNG": 20_000_000, "WEBP": 20_000_000}
LONG_SIDE, SMALL_SIDE = 2_000, 480
FORMATS = ("JPEG", "PNG", "WEBP")
# A large picture takes some hundred megabytes while it is decoded: one at a time in a process.
ONE_AT_A_TIME = Lock()
# What the library raises for files that are cut off, or only pretend.
BROKEN = (OSError, SyntaxError, ValueError, EOFError, IndexError, KeyError, OverflowError, struct.error, zlib.error)

# How a file of the HEIF family begins (ISO/IEC 14496-12, 4.3; ISO/IEC 23008-12, annex B; AV1 Image File Format, 8): many
# cameras write it unless they are told otherwise, and nothing here reads it.
HEIF_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif", b"avis"})

# How a camera was held, and what sets it right again (Exif 2.32, 4.6.4, Orientation).
TURNS = {
    2: Transpose.FLIP_LEFT_RIGHT,
    3: Transpose.ROTATE_180,
    4: Transpose.FLIP_TOP_BOTTOM,
    5: Transpose.TRANSPOSE,
    6: Transpose.ROTATE_270,
    7: Transpose.TRANSVERSE,
    8: Transpose.ROTATE_90,
}


class Refusal(StrEnum):
    """Why a file is not kept."""

    EMPTY = "empty"
    TOO_LARGE = "too_large"
    TOO_MANY_PIXELS = "too_many_pixels"
    NO_PHOTOGRAPH = "no_photograph"
    HEIC = "heic"
    BROKEN = "broken"
    TOO_MANY = "too_many"
    NOT_WRITTEN = "not_written"


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
    with ONE_AT_A_TIME, _whole_files_alone():
        return _decoded(file)


@contextmanager
def _whole_files_alone() -> Iterator[None]:
    """A picture that is cut off is refused. The renderer of papers tells the library otherwise, for the whole process."""
    before, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
    try:
        yield
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = before


def _decoded(file: IO[bytes]) -> Picture:
    try:
        opened = Image.open(file, formats=FORMATS)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise NotKept(Refusal.TOO_MANY_PIXELS) from bomb
    except BROKEN as error:
        raise NotKept(Refusal.HEIC if _is_heif(file) else Refusal.NO_PHOTOGRAPH) from error
    with opened as image:
        if image.width * image.height > MOST_PIXELS[image.format or ""]:
            raise NotKept(Refusal.TOO_MANY_PIXELS)
        try:
            # A JPEG decodes straight to a half or a quarter, which is faster and takes less.
            image.draft("RGB", (LONG_SIDE, LONG_SIDE))
            upright = _upright(image)
        except BROKEN as error:
            raise NotKept(Refusal.BROKEN) from error
    full = _jpeg(upright, quality=85)
    width, height = upright.size
    upright.thumbnail((SMALL_SIDE, SMALL_SIDE))
    return Picture(full, _jpeg(upright, quality=80), width, height)


def _is_heif(file: IO[bytes]) -> bool:
    file.seek(0)
    start = file.read(12)
    return start[4:8] == b"ftyp" and start[8:12] in HEIF_BRANDS


def _upright(image: Image.Image) -> Image.Image:
    """The picture, smaller, in plain colours and as one looks at it; what could be seen through is white.

    It is made smaller before anything else is copied, so that a large one is in memory once.
    """
    held = image.getexif().get(Base.Orientation, 1)
    if image.mode not in {"RGB", "RGBA", "L", "LA", "CMYK"}:
        image = image.convert("RGBA" if image.has_transparency_data else "RGB")
    image.thumbnail((LONG_SIDE, LONG_SIDE))
    plain = Image.new("RGB", image.size, "white")
    seen = image.convert("RGBA") if image.has_transparency_data else image.convert("RGB")
    plain.paste(seen, mask=seen.getchannel("A") if seen.mode == "RGBA" else None)
    turn = TURNS.get(held)
    return plain.transpose(turn) if turn is not None else plain


def _jpeg(image: Image.Image, *, quality: int) -> bytes:
    """Pixels alone: a picture of its own, so that nothing that came with the file goes along."""
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()
