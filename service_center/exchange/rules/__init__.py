"""The CSV files of a book: how they are read and what is wrong with them. Nothing here knows a database.

`CsvReader` streams a file's records, `Checker` turns them into what the book stores, `Fault` says what is wrong where.
"""

from service_center.exchange.rules.checking import Checked, Checker
from service_center.exchange.rules.faults import SHOWN, Fault, Faults, quoted
from service_center.exchange.rules.files import FILES, NAMES, BookFile, Column
from service_center.exchange.rules.reading import CsvReader, UnreadableError

__all__ = [
    "FILES",
    "NAMES",
    "SHOWN",
    "BookFile",
    "Checked",
    "Checker",
    "Column",
    "CsvReader",
    "Fault",
    "Faults",
    "UnreadableError",
    "quoted",
]
