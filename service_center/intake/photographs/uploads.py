"""Receiving photographs: straight to the disk, none larger than the house keeps, and an end to how much at once.

What is too large is read past and not kept, so that the tablet still gets its answer and nothing typed is lost.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, TYPE_CHECKING, Any

from django.core.files.uploadhandler import SkipFile, TemporaryFileUploadHandler
from django.http import HttpRequest

from service_center.intake.photographs.decoding import MOST_BYTES
from service_center.intake.photographs.queries import MOST_PHOTOGRAPHS

if TYPE_CHECKING:
    from django.core.files.uploadedfile import UploadedFile


class PhotographHandler(TemporaryFileUploadHandler):
    """Keeps the files of a form; in `too_large` the names of those it read past, in `not_written` of those for which
    the disk had no room."""

    def __init__(self, request: HttpRequest) -> None:
        super().__init__(request)
        self.too_large: list[str] = []
        self.not_written: list[str] = []
        self.files = 0
        self.read = 0

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        self.files += 1
        self.read = 0
        if self.files > MOST_PHOTOGRAPHS:
            self._read_past(str(args[1] if len(args) > 1 else kwargs["file_name"]))
        with self._room():
            super().new_file(*args, **kwargs)

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        self.read += len(raw_data)
        if self.read > MOST_BYTES:
            self._read_past(self.file_name or "")
        with self._room():
            return super().receive_data_chunk(raw_data, start)

    def file_complete(self, file_size: int) -> "UploadedFile[bytes] | None":
        try:
            return super().file_complete(file_size)  # the last of it goes to the disk
        except OSError:
            self.not_written.append((self.file_name or "")[:80])
            return None

    @contextmanager
    def _room(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            self.not_written.append((self.file_name or "")[:80])
            raise SkipFile from error

    def _read_past(self, name: str) -> None:
        self.too_large.append(name[:80])
        raise SkipFile

    def handle_raw_input(self, input_data: IO[bytes], META: dict[str, str], content_length: int, *rest: Any) -> None:  # noqa: N803  # Django's name
        """Nothing is known before it is read."""
