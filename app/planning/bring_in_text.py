"""A function list as text again, for the preview's form to send back when the builder confirms."""

import csv
import io
import re
from collections.abc import Iterable
from typing import Any

from app.readers.function_list import FunctionList
from app.readers.function_table import LONGEST_CELL

# The reader's words for what a row is refused for, where the row must be written so that it says it again.
TOO_MANY = re.compile(r"it has [0-9]+ cells under ([0-9]+) headings.*")
TOO_LONG = re.compile(r"a cell holds ([0-9,]+) characters.*")
SEPARATOR = "tab"


def list_as_text(read: FunctionList) -> str:
    """The list as tab-separated text, to be sent back when the builder confirms.

    Rows keep their lines, and what made a row refused stays in it, so that a second reading says the same.
    """
    written = io.StringIO(newline="")
    writer = _writer(written)
    line = 1
    if read.has_headings:
        counts = [int(found[1]) for row in read.rows if (found := TOO_MANY.fullmatch(row.trouble))]
        writer.writerow([_one_line(column.heading) for column in read.columns][: min(counts, default=None)])
        line = 2
    for row in read.rows:
        written.write("\n" * (row.line - line))
        line = max(row.line, line) + 1
        told = TOO_LONG.fullmatch(row.trouble)
        longest = int(told[1].replace(",", "")) if told else 0
        writer.writerow([_kept_cell(cell, longest) for cell in row.cells])
    return written.getvalue()


def rows_as_text(rows: Iterable[Iterable[str]]) -> str:
    """Rows of cells as tab-separated text, each cell on one line and quoted, so that it is read as it is."""
    written = io.StringIO(newline="")
    _writer(written).writerows([_one_line(cell) for cell in row] for row in rows)
    return written.getvalue()


def _writer(written: io.StringIO) -> Any:
    return csv.writer(written, delimiter="\t", quoting=csv.QUOTE_ALL, lineterminator="\n")


def _kept_cell(cell: str, longest: int) -> str:
    """A cell on one line; one that was cut for its length is as long again."""
    return cell.ljust(longest, "…") if longest and len(cell) >= LONGEST_CELL else _one_line(cell)


def _one_line(cell: str) -> str:
    return " ".join(cell.split())
