"""A folder of messages: files that end in .eml, or a Maildir, in which new and cur hold one message a file."""

from collections.abc import Iterator
from pathlib import Path

# A report stands at the beginning of a message; what follows is the letter that came back.
BYTES_READ = 262_144


class NoFolder(Exception):  # noqa: N818  # what is missing
    """There is no such folder, or it may not be read. The message says which and why."""


def messages_in(folder: Path) -> Iterator[bytes]:
    """The beginning of each message, the newest first. Nothing is moved or marked: the database knows what was read."""
    places = [folder / "new", folder / "cur"]
    maildir = all(place.is_dir() for place in places)
    try:
        files = [file for place in (places if maildir else [folder]) for file in place.iterdir() if file.is_file()]
        if not maildir:
            files = [file for file in files if file.suffix.lower() == ".eml"]
        files.sort(key=lambda file: (-file.stat().st_mtime_ns, file.name))
    except OSError as error:
        raise NoFolder(f"{folder}: {error.strerror}") from error
    for file in files:
        try:
            with file.open("rb") as opened:
                yield opened.read(BYTES_READ)
        except FileNotFoundError:  # taken away meanwhile by whoever delivers there
            continue
