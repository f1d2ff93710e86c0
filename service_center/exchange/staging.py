"""Files that were uploaded and looked at, waiting for somebody to say "write".

Each upload has a folder of its own with a name nobody can guess, readable by the site's user alone. Whoever uploaded
it holds the name and the files' checksums in their session. It goes when it is used, discarded or an hour old.
"""

import hashlib
import json
import secrets
import shutil
import time
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.conf import settings

from service_center.exchange.actions import ImportResult

if TYPE_CHECKING:
    from django.core.files.uploadedfile import UploadedFile

KEPT_SECONDS = 3_600
PREVIEW = "preview.json"


@dataclass(frozen=True, slots=True)
class Staged:
    """One upload: its folder's name and the SHA-256 of each file."""

    name: str
    sums: Mapping[str, str]

    @property
    def folder(self) -> Path:
        """Where the files wait."""
        return _place() / self.name

    def as_session(self) -> dict[str, Any]:
        """What the session keeps."""
        return {"name": self.name, "sums": dict(self.sums)}

    def is_whole(self) -> bool:
        """Whether the files are still there, in time, and byte for byte those that were looked at."""
        try:
            if time.time() - self.folder.stat().st_mtime > KEPT_SECONDS:
                return False
            return all(_sum_of(self.folder / name) == told for name, told in self.sums.items())
        except FileNotFoundError:
            return False

    def keep_preview(self, preview: Mapping[str, Any]) -> None:
        """Keep what the files would do, for looking at again."""
        (self.folder / PREVIEW).write_text(json.dumps(preview), encoding="utf-8")

    def preview(self) -> dict[str, Any] | None:
        """What the files would do, as it was found when they came; None once they are gone."""
        try:
            found: dict[str, Any] = json.loads((self.folder / PREVIEW).read_text(encoding="utf-8"))
        except FileNotFoundError:
            return None
        return found

    def claim(self) -> "Staged | None":
        """Take the files for writing, so that a button pressed twice writes once. None where they were taken."""
        taken = Staged(f"{self.name}-writing", self.sums)
        try:
            self.folder.rename(taken.folder)
        except FileNotFoundError:
            return None
        return taken

    def discard(self) -> None:
        """Take the files away."""
        shutil.rmtree(self.folder, ignore_errors=True)


def stage(files: "Iterable[UploadedFile[bytes]]") -> Staged:
    """Keep uploaded files for a while. Those of others whose time is over go."""
    _sweep()
    name = secrets.token_urlsafe(24)
    folder = _place() / name
    folder.mkdir(mode=0o700, parents=True)
    sums = {}
    for file in files:
        digest = hashlib.sha256()
        with (folder / str(file.name)).open("wb") as out:
            for chunk in file.chunks():
                digest.update(chunk)
                out.write(chunk)
        sums[str(file.name)] = digest.hexdigest()
    return Staged(name, sums)


def from_session(kept: Any) -> Staged | None:
    """What a session says was uploaded."""
    return Staged(kept["name"], kept["sums"]) if isinstance(kept, dict) else None


def as_preview(result: ImportResult) -> dict[str, Any]:
    """What an import would do, as a page shows it and JSON keeps it."""
    return {
        "counts": [{"stem": stem, **asdict(counts)} for stem, counts in result.counts.items()],
        "examples": [
            {"file": f"{stem}.csv", "changes": [asdict(change) for change in changes]}
            for stem, changes in result.examples.items()
            if changes
        ],
        "faults": [asdict(fault) for fault in result.faults.first],
        "fault_count": result.faults.count,
        "more_faults": result.faults.more,
        "warnings": [asdict(warning) for warning in result.warnings.first],
        "warning_count": result.warnings.count,
        "more_warnings": result.warnings.more,
        "corrections_kept": result.corrections_kept,
        "corrections_overwritten": result.corrections_overwritten,
        "can_be_written": not result.faults.count and result.changes_anything,
    }


def _place() -> Path:
    place: Path = settings.DATA_DIR / "uploads"
    return place


def _sum_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _sweep() -> None:
    """Take away what nobody came back for."""
    place = _place()
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    for folder in place.iterdir():
        if time.time() - folder.stat().st_mtime > KEPT_SECONDS:
            shutil.rmtree(folder, ignore_errors=True)
