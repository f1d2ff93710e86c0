"""The number on the receipt, by which a drop-off and its order are called."""


def number_of(pk: int) -> str:
    """A drop-off's number as it stands on the receipt: R-000123."""
    return f"R-{pk:06d}"


def number_meant(text: str) -> str | None:
    """The number meant by what was typed or scanned (r123, R-000123), or None where it is none."""
    digits = text.strip().upper().removeprefix("R").removeprefix("-")
    is_number = text.strip()[:1].upper() == "R" and digits.isascii() and digits.isdigit() and len(digits) < 15
    return number_of(int(digits)) if is_number else None
