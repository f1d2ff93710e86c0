"""The list that lies in a backup: what is in it, and by what anybody can check it (design/reliability.md, B3)."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

FORMAT = 1
MANIFEST = "manifest.json"
SETTINGS = "settings.json"
SENT_JOURNAL = "journals/sent.journal"
ERASURE_JOURNAL = "journals/erased.journal"
FILES = "files/"
DATABASES = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}
ALONE = frozenset({MANIFEST, SETTINGS, SENT_JOURNAL, ERASURE_JOURNAL, *DATABASES.values()})
LONGEST_NAME = 400


class NotAManifest(ValueError):  # noqa: N818  # a refusal, named for what was found
    """The list is not one of ours, or of a later kind. The message says what is wrong."""


class BadName(ValueError):  # noqa: N818  # a refusal, named for what was found
    """A name in a backup that must not be written anywhere."""


@dataclass(frozen=True, slots=True)
class Member:
    """A file in a backup: how long it is in bytes, and its SHA-256 in hexadecimal digits."""

    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Book:
    """The files of `export_book`: records by stem, one SHA-256 over all files, and one over their header rows alone."""

    records: Mapping[str, int]
    sha256: str
    columns_sha256: str


@dataclass(frozen=True, slots=True)
class Contents:
    """What a database holds: its migrations ("app.name", sorted), rows by table, and the book as files."""

    migrations: tuple[str, ...]
    rows: Mapping[str, int]
    book: Book


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup holds. `database`: "sqlite" or "postgresql"; `version`: that of this program."""

    made_at: datetime
    version: str
    house: str
    database: str
    contents: Contents
    members: Mapping[str, Member]

    @property
    def database_member(self) -> str:
        """Under which name the database lies in the backup."""
        return DATABASES[self.database]

    @property
    def files(self) -> dict[str, Member]:
        """Photographs and papers, by their name below DATA_DIR/files."""
        return {name.removeprefix(FILES): one for name, one in self.members.items() if name.startswith(FILES)}


def checked_name(name: str) -> str:
    """The name, if a backup may have it: one of ours, or a plain path below files/. Raises BadName."""
    if name in ALONE:
        return name
    below = name.removeprefix(FILES)
    if below == name or len(name) > LONGEST_NAME:
        raise BadName(f"{name[:80]!r} is no name of a file in a backup")
    parts = below.split("/")
    if any(part in {"", ".", ".."} for part in parts) or any(sign == "\\" or not sign.isprintable() for sign in below):
        raise BadName(f"{name[:80]!r} leads out of its folder")
    return name


def text_of(manifest: Manifest) -> str:
    """The list as JSON, for a person to read as well."""
    contents = manifest.contents
    return json.dumps(
        {
            "format": FORMAT,
            "made_at": manifest.made_at.isoformat(),
            "version": manifest.version,
            "house": manifest.house,
            "database": manifest.database,
            "migrations": list(contents.migrations),
            "rows": dict(contents.rows),
            "book": {
                "records": dict(contents.book.records),
                "sha256": contents.book.sha256,
                "columns_sha256": contents.book.columns_sha256,
            },
            "files": {name: {"bytes": one.size, "sha256": one.sha256} for name, one in manifest.members.items()},
        },
        indent=1,
        ensure_ascii=False,
    )


def manifest_from(text: bytes) -> Manifest:
    """The list of a backup. Raises NotAManifest, or BadName."""
    try:
        return _manifest(json.loads(text))
    except (BadName, NotAManifest):
        raise
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise NotAManifest(f"{type(error).__name__}: {error}") from error


def _manifest(told: dict[str, Any]) -> Manifest:
    if told["format"] != FORMAT:
        raise NotAManifest(f"it is of format {told['format']!r}; this program reads format {FORMAT}")
    book = told["book"]
    manifest = Manifest(
        made_at=datetime.fromisoformat(told["made_at"]),
        version=str(told["version"]),
        house=str(told["house"]),
        database=str(told["database"]),
        contents=Contents(
            migrations=tuple(map(str, told["migrations"])),
            rows={str(table): int(number) for table, number in told["rows"].items()},
            book=Book(
                records={str(stem): int(number) for stem, number in book["records"].items()},
                sha256=str(book["sha256"]),
                columns_sha256=str(book["columns_sha256"]),
            ),
        ),
        members={
            checked_name(str(name)): Member(int(one["bytes"]), str(one["sha256"]))
            for name, one in told["files"].items()
        },
    )
    if manifest.database not in DATABASES:
        raise NotAManifest(f"its database is {manifest.database!r}")
    if manifest.database_member not in manifest.members:
        raise NotAManifest("it lists no database")
    if SETTINGS not in manifest.members:
        raise NotAManifest("it lists no settings")
    return manifest


def differences(expected: Contents, found: Contents) -> list[str]:
    """What is not as the list says: migrations and rows by table. Empty where all of it is."""
    said = []
    if expected.migrations != found.migrations:
        lacking = sorted(set(expected.migrations) - set(found.migrations))
        more = sorted(set(found.migrations) - set(expected.migrations))
        said.append(f"migrations: {', '.join(lacking) or 'none'} lacking, {', '.join(more) or 'none'} too many")
    for table in sorted({*expected.rows, *found.rows}):
        listed, there = expected.rows.get(table), found.rows.get(table)
        if listed != there:
            said.append(f"{table}: {_rows(there)}, and the list says {_rows(listed)}")
    return said


def _rows(number: int | None) -> str:
    return "no such table" if number is None else f"{number:,} rows"
