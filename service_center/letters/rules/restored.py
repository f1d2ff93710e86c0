"""How the trail tells of a backup that was brought back, and of the letters that it had as waiting."""

from enum import StrEnum

# The reason of a letter that a backup had as waiting: held until somebody says that the rest may go.
AFTER_RESTORE = "after a restore"
# The reason of one that is held whenever it is let go: its Message-ID is in its owner's mailbox already.
NAME_IS_BORNE = "another letter went out under its number before a restore"
# Subjects of the trail: the house's letters as a whole, and a backup that became this site.
LETTERS, RESTORED = "letters", "book:restore"


class Deed(StrEnum):
    """What is done with letters after a restore, as the trail has it."""

    HELD = "letters_held"  # after: held, in_doubt
    JOURNALS_HEARD = "journals_heard"  # after: marked, written, known, unknown, last_sent_at
    WENT_ON = "letters_go_on"  # after: letters, how many
    ENDED = "letters_ended"  # after: letters, their numbers
