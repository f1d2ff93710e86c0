"""What is wrong with a file, said so that a person finds the place: file, line, column, reason."""

from dataclasses import dataclass, field

SHOWN = 1_000
QUOTED = 60


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One thing wrong. `line` is the physical line (from 1) where the record or the cell starts; `column` its name.

    `column` is empty where the whole line or file is meant.
    """

    file: str
    line: int
    column: str
    reason: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}"
        return f"{place}:{one_line(self.column)}: {self.reason}" if self.column else f"{place}: {self.reason}"


@dataclass(slots=True)
class Faults:
    """The first faults in full, and how many there are in all, so that a file of nothing but faults costs no memory."""

    count: int = 0
    first: list[Fault] = field(default_factory=list)

    def add(self, fault: Fault) -> None:
        """Note one fault."""
        self.count += 1
        if len(self.first) < SHOWN:
            self.first.append(fault)

    @property
    def more(self) -> int:
        """How many are not among the first."""
        return self.count - len(self.first)


def quoted(text: str) -> str:
    """A cell as a fault shows it: in quotes, on one line, shortened."""
    short = text if len(text) <= QUOTED else f"{text[:QUOTED]}…"
    return f'"{one_line(short)}"'


def one_line(text: str) -> str:
    """Text on one line: whatever does not print is shown by its number."""
    if text.isprintable():
        return text
    return "".join(char if char.isprintable() else f"\\u{ord(char):04x}" for char in text)
