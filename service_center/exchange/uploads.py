"""Receiving a book's files: straight to the disk, none larger than a page can deal with, none by an unknown name.

What is refused is read past, not kept, so that the browser still gets its answer.
"""

from typing import IO, Any

from django.core.files.uploadhandler import SkipFile, TemporaryFileUploadHandler
from django.http import HttpRequest

from service_center.exchange.rules import NAMES, quoted

MEGABYTE = 1_000_000
FILE_LIMIT = 64 * MEGABYTE
TOTAL_LIMIT = 128 * MEGABYTE


class BookFilesHandler(TemporaryFileUploadHandler):
    """Keeps a book's files, and the reasons for what it did not keep in `refused`."""

    def __init__(self, request: HttpRequest) -> None:
        super().__init__(request)
        self.refused: list[str] = []
        self.seen: set[str] = set()
        self.total = 0
        self._request_size = 0

    def handle_raw_input(self, input_data: IO[bytes], META: dict[str, str], content_length: int, *rest: Any) -> None:  # noqa: N803  # Django's name
        """Learn how much is coming before any of it is read."""
        self._request_size = content_length

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """Refuse by name, and by the size of the whole upload, before a byte is kept."""
        name = str(args[1] if len(args) > 1 else kwargs["file_name"])
        if self._request_size > TOTAL_LIMIT + MEGABYTE:
            self._refuse(
                f"{quoted(name)}: this upload is {self._request_size // MEGABYTE:,} MB; a page takes at most "
                f"{TOTAL_LIMIT // MEGABYTE} MB. Ask for import_book on the server for larger books."
            )
        if name not in NAMES:
            self._refuse(f"{quoted(name)} is not one of a book's files: {', '.join(NAMES)}.")
        if name in self.seen:
            self._refuse(f"{quoted(name)} was chosen twice.")
        self.seen.add(name)
        super().new_file(*args, **kwargs)

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        """Keep a piece of a file while there is room."""
        self.total += len(raw_data)
        if start + len(raw_data) > FILE_LIMIT or self.total > TOTAL_LIMIT:
            self._refuse(
                f"{quoted(str(self.file_name))} is too large: a page takes files of at most {FILE_LIMIT // MEGABYTE} MB, "
                f"{TOTAL_LIMIT // MEGABYTE} MB together. Ask for import_book on the server for larger books."
            )
        super().receive_data_chunk(raw_data, start)

    def _refuse(self, reason: str) -> None:
        self.refused.append(reason)
        raise SkipFile
