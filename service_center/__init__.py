"""Service center: the after-sales desk of a maker of mechanical, water-resistant watches.

SQLite 3.7.0 to 3.51.2 can corrupt a write-ahead log when two connections write at once
(sqlite.org/wal.html, walresetbug). Where a mended library is installed it takes the place of the
system's before Django loads its database code; settings.py chooses the journal by what is here.
"""

import sys

__version__ = "0.1.0"

try:
    import pysqlite3
except ImportError:  # no wheel for this platform: the system's SQLite with a rollback journal
    pass
else:
    sys.modules["sqlite3"] = pysqlite3
    sys.modules["sqlite3.dbapi2"] = pysqlite3.dbapi2
