"""What a function list looks like before its columns are known: rows of cells, and how a list is refused."""

from dataclasses import dataclass

LARGEST_LIST_BYTES = 5 * 1024 * 1024
MOST_ROWS = 5_000
MOST_COLUMNS = 60
LONGEST_CELL = 2_000


class FunctionListRefused(Exception):
    """A list that cannot be read: the file, the place in it, the reason."""

    def __init__(self, file: str, place: str, reason: str) -> None:
        super().__init__(f"{file}: {place}: {reason}" if place else f"{file}: {reason}")
        self.file = file
        self.place = place
        self.reason = reason


@dataclass(frozen=True, slots=True)
class RawRow:
    """One row as it stands in the file: the line where it begins, its cells as text.

    `trouble` says why it cannot be used; `dates` are the columns that the spreadsheet made dates of.
    """

    line: int
    cells: tuple[str, ...]
    trouble: str = ""
    dates: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class RawTable:
    """The rows of a file that hold something, the character between its cells, and what is said of the reading."""

    rows: tuple[RawRow, ...]
    separator: str
    notes: tuple[str, ...]


def raw_row(line: int, cells: list[str], dates: tuple[int, ...] = ()) -> RawRow:
    """A row with its cells trimmed, and with a trouble where a cell is too long to be one of a list."""
    trimmed = tuple(cell.strip() for cell in cells)
    longest = max((len(cell) for cell in trimmed), default=0)
    trouble = ""
    if longest > LONGEST_CELL:
        trouble = f"a cell holds {longest:,} characters; at most {LONGEST_CELL:,} are read"
        trimmed = tuple(cell[:LONGEST_CELL] for cell in trimmed)
    return RawRow(line, trimmed, trouble, dates)
