"""Serials that are easily taken for one another: one character wrong, missing, too many, or two changed about."""

from string import ascii_uppercase, digits

ALPHABET = digits + ascii_uppercase
# Shorter keys have neighbours everywhere; longer ones are no serial of any house.
SHORTEST, LONGEST = 4, 24


def similar_keys(key: str) -> frozenset[str]:
    """Every search key (book.rules.serial_key) one slip away from a key; none for keys too short or long to say.

    A slip is one edit after Damerau (1964): a character other, left out, put in, or two neighbours changed about.
    """
    if not SHORTEST <= len(key) <= LONGEST:
        return frozenset()
    cuts = [(key[:place], key[place:]) for place in range(len(key) + 1)]
    other = {left + letter + right[1:] for left, right in cuts if right for letter in ALPHABET}
    left_out = {left + right[1:] for left, right in cuts if right}
    put_in = {left + letter + right for left, right in cuts for letter in ALPHABET}
    changed_about = {left + right[1] + right[0] + right[2:] for left, right in cuts if len(right) > 1}
    return frozenset((other | left_out | put_in | changed_about) - {key})
