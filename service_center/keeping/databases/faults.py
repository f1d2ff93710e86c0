"""What can be wrong with a database that is copied, and is nobody's typing."""


class DatabaseFault(Exception):  # noqa: N818  # named for what was found
    """A program is missing, the database refuses, or somebody is still at work. The message says what to do."""


class UnreadableDatabase(Exception):  # noqa: N818  # named for what was found
    """What lies in a backup is no sound database. The message says what is wrong."""
