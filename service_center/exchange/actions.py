"""A book in from files, all of it or nothing and nothing twice; and out again."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import IO

from django.utils import timezone

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.exchange import comparing, follow_up, scratch, writing, writing_files
from service_center.exchange.comparing import Change, Counts
from service_center.exchange.corrections import keep_corrections
from service_center.exchange.erased import empty_erased_addresses
from service_center.exchange.rules import FILES, BookFile, Checker, CsvReader, Fault, Faults, UnreadableError
from service_center.exchange.tables import TABLES, Table

# Called with what is being done and how many bytes of the files that took.
Progress = Callable[[str, int], None]


def silent(_what: str, _size: int) -> None:
    """No progress shown."""


class NoFilesError(ValueError):
    """A folder holds none of a book's files."""


@dataclass(slots=True)
class ImportResult:
    """What an import did or would do, by the stems of the files that were there, in the order of outside.md.

    With any fault nothing was written. `examples` are the first cells that change. `corrections_kept` and
    `corrections_overwritten`: particulars that owners corrected themselves, and the file says otherwise.
    """

    counts: dict[str, Counts] = field(default_factory=dict)
    examples: dict[str, list[Change]] = field(default_factory=dict)
    faults: Faults = field(default_factory=Faults)
    warnings: Faults = field(default_factory=Faults)
    corrections_kept: int = 0
    corrections_overwritten: int = 0
    written: bool = False

    @property
    def changes_anything(self) -> bool:
        """Whether any record is new or differs."""
        return any(counts.added or counts.changed for counts in self.counts.values())


def import_book(
    source: Path, *, dry_run: bool, by: Staff | None, as_of: date, progress: Progress = silent
) -> ImportResult:
    """Read a book's files from a folder and write them into the book, with all that follows, in one transaction.

    Faults are returned, not raised; nothing is written then, nor in a dry run. Records that say what the book
    says are not touched. What follows: due dates of the pieces concerned on `as_of`, and the end of letters
    whose reason is gone. Raises NoFilesError where the folder holds none of the files. Memory does not grow
    with the files; a second import waits for the first.
    """
    here = [(file, source / file.name) for file in FILES if (source / file.name).is_file()]
    if not here:
        raise NoFilesError(f"{source} holds none of a book's files: {', '.join(file.name for file in FILES)}")
    result = ImportResult()
    _warn_of_strangers(source, result.warnings)
    tables = [TABLES[file.stem] for file, _path in here]
    with scratch.working():
        try:
            with scratch.reading():
                read = _read_all(here, result, progress)
                if dry_run or result.faults.count:
                    _compare(read, [table.file.stem for table in tables], result)
            if not dry_run and not result.faults.count:
                with scratch.writing():
                    _compare(read, [table.file.stem for table in tables], result)
                    if not result.faults.count and result.changes_anything:
                        progress("writing", 0)
                        _write(read, result, by=by, as_of=as_of, progress=progress)
                        result.written = True
        finally:
            for table in tables:
                scratch.drop(table)
    return result


def export_book(folder: Path, *, overwrite: bool = False) -> dict[str, int]:
    """Write the book into a folder as files, from one state of it. Returns the number of records by stems.

    Raises FolderInUseError where the folder holds files of a book already and they may not be overwritten.
    """
    with scratch.reading(repeatable=True):
        return writing_files.write_files(folder, overwrite=overwrite)


def digest_of_book() -> writing_files.Digest:
    """The hash of the files that `export_book` would write, and how many records they hold, from one state of it."""
    with scratch.reading(repeatable=True):
        return writing_files.digest()


def export_archive(archive: IO[bytes], *, by: Staff | None) -> None:
    """Write the book's files into a zip archive, from one state of the book, and the deed into the trail."""
    with scratch.reading(repeatable=True):
        counts = writing_files.write_archive(archive)
    leave_trail(by=by, deed="export_book", subject="book:export", after=counts)


def _warn_of_strangers(source: Path, warnings: Faults) -> None:
    """A misspelt file name would otherwise be a file quietly left out."""
    for path in sorted(source.glob("*.csv")):
        if path.stem not in TABLES:
            warnings.add(Fault(path.name, 1, "", "is not one of a book's files; it was not read"))


def _read_all(here: list[tuple[BookFile, Path]], result: ImportResult, progress: Progress) -> list[Table]:
    """Fill a temporary table from each file. Returns those that could be read to their end."""
    read = []
    for file, path in here:
        table = TABLES[file.stem]
        scratch.make(table)
        try:
            _read(table, path, result, progress)
        except UnreadableError as stop:
            for fault in stop.faults:
                result.faults.add(fault)
        else:
            scratch.ready(table)
            read.append(table)
    return read


def _read(table: Table, path: Path, result: ImportResult, progress: Progress) -> None:
    seen = 0
    with path.open("rb") as raw:
        reader = CsvReader(table.file, raw)
        try:
            checker = Checker(table.file, reader.positions, result.faults, result.warnings)
            for batch in reader.batches():
                scratch.fill(table, checker.check(batch))
                now = raw.tell()
                progress(table.file.name, now - seen)
                seen = now
        finally:
            reader.close()


def _compare(read: list[Table], there: list[str], result: ImportResult) -> None:
    """Look at the files beside each other and beside the book. A file that could not be read makes nothing unknown."""
    stems = [table.file.stem for table in read]
    unreadable = set(there) - set(stems)
    for table in read:
        comparing.doubled_keys(table, result.faults)
        comparing.unknown_references(table, stems, unreadable, result.faults)
        comparing.odd_days(table, result.warnings)
        if table.file.stem == "owners":
            comparing.leave_out_erased(table, result.warnings)
            empty_erased_addresses(table, result.warnings)
            result.corrections_kept, result.corrections_overwritten = keep_corrections(table, result.warnings)
        comparing.unknown_countries(table, result.faults)  # what an owner corrected counts, not what the file had
        if table.file.stem == "rules":
            comparing.equal_rules(table, result.faults)
        result.counts[table.file.stem] = counts = comparing.counts_of(table)
        if counts.changed and table.insert_only:
            comparing.edited_facts(table, result.faults)
        elif counts.changed:
            result.examples[table.file.stem] = comparing.examples_of(table)
    result.faults.first.sort(key=lambda fault: (_ORDER[fault.file], fault.line, fault.column))


_ORDER = {file.name: place for place, file in enumerate(FILES)}


def _write(read: list[Table], result: ImportResult, *, by: Staff | None, as_of: date, progress: Progress) -> None:
    at = timezone.now()
    touched = follow_up.Touched()
    for table in read:
        counts = result.counts[table.file.stem]
        touched.before(table, counts)
        before = writing.highest_id(table)
        writing.write(table, counts, at=at, by_id=by.pk if by else None)
        touched.after(table, counts, before)
    progress("working out due dates", 0)
    follow_up.follow_up(touched, as_of=as_of)
    leave_trail(
        by=by,
        deed="import_book",
        subject="book:import",
        after={
            stem: {"added": counts.added, "changed": counts.changed, "same": counts.same}
            for stem, counts in result.counts.items()
        },
    )
