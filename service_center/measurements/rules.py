"""Readings by position: what is impossible, and what asks for a second look."""

# ISO 3158: CH dial up, CB dial down (also written FH), and the dial hour that points up.
POSITIONS = ("CH", "CB", "3H", "6H", "9H", "12H")
WINDS = ("full", "24h", "end")
