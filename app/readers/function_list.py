"""A function list as a builder has it: pasted from a spreadsheet, or a file of text or a workbook.

The format leaves nearly all undefined: whether there are headings, which columns there are, in which order. They
are guessed, each with its reason, and the builder can change every one. Rows are handed on as text; what a kind, a
range or a wiring word means is read by function_kind.py, function_range.py and `split_wiring`.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from itertools import zip_longest

from app.readers.function_columns import (
    FIELDS,
    HEADING_MAP,
    WIRING_WORDS,
    ColumnTaken,
    columns_taken,
    looks_like_headings,
    split_wiring,
)
from app.readers.function_list_text import read_text_table
from app.readers.function_list_xlsx import read_xlsx_table
from app.readers.function_table import LARGEST_LIST_BYTES, MOST_ROWS, FunctionListRefused, RawRow, RawTable

__all__ = [
    "FIELDS",
    "HEADING_MAP",
    "WIRING_WORDS",
    "ColumnTaken",
    "FunctionList",
    "FunctionListRefused",
    "ListRow",
    "read_function_list",
    "split_wiring",
]

PASTED = "pasted list"
_NOT_A_LIST = {
    b"\xd0\xcf\x11\xe0": "is a workbook of the old kind: save it as .xlsx or as CSV",
    b"%PDF": "is a PDF: copy the table from it and paste it",
    b"\x7fELF": "is a program, not a list",
}


@dataclass(frozen=True, slots=True)
class ListRow:
    """One row: its line, its cells, the text of each field that has some, and why it is refused if it is."""

    line: int
    cells: tuple[str, ...]
    values: dict[str, str]
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class FunctionList:
    """A list with its columns taken; `notes` are to be said to the builder."""

    file_name: str
    format: str
    separator: str
    has_headings: bool
    columns: tuple[ColumnTaken, ...]
    rows: tuple[ListRow, ...]
    notes: tuple[str, ...]


def read_function_list(
    data: bytes | str,
    file_name: str | None = None,
    *,
    columns: Mapping[int, str] | None = None,
    has_headings: bool | None = None,
    wiring_words: Collection[str] = WIRING_WORDS,
    separator: str = "",
) -> FunctionList:
    r"""Read a function list.

    Args:
        data: pasted text, or the bytes of a file.
        file_name: what the file is called, for messages.
        columns: column (from 0) to field, "" to leave it out, as the builder chose; the rest is guessed.
        has_headings: whether the first row is one of headings; looked for if not given.
        wiring_words: the words known in a wiring column, for the guess of a list without headings.
        separator: "tab", "semicolon" or "comma" where it is known; looked for if not given. Text only.

    Returns:
        The list, its columns with the reason of each, its rows in order. A row without a name, with cells beyond
        the headings, with a cell too long or made a date by the spreadsheet carries its trouble.

    Raises:
        FunctionListRefused: it cannot be read, or a chosen column or field does not exist.

    Example:
        >>> found = read_function_list("F001\tAirspeed\tgauge\t0-180 kt\tair.speed_kt\tgs4")
        >>> [column.field for column in found.columns]
        ['id', 'name', 'kind', 'range', 'signal', 'wiring']
    """
    file = file_name or PASTED
    table, is_workbook = _raw_table(data, file, separator)
    if not table.rows:
        raise FunctionListRefused(file, "", "there is nothing in it")
    headed = looks_like_headings(table.rows[0].cells) if has_headings is None else has_headings
    headings = table.rows[0].cells if headed else None
    rows = table.rows[1:] if headed else table.rows
    if len(rows) > MOST_ROWS:
        raise FunctionListRefused(
            file, f"line {rows[MOST_ROWS].line}", f"more than {MOST_ROWS:,} rows are not read"
        )
    _check_chosen(columns or {}, table, file)
    taken = columns_taken(headings, [row.cells for row in rows], columns or {}, wiring_words)
    return FunctionList(
        file_name=file,
        format="xlsx" if is_workbook else "text",
        separator=table.separator,
        has_headings=headed,
        columns=taken,
        rows=tuple(_list_row(row, taken, len(headings) if headings else None) for row in rows),
        notes=table.notes,
    )


def _raw_table(data: bytes | str, file: str, separator: str) -> tuple[RawTable, bool]:
    size = len(data)
    if size > LARGEST_LIST_BYTES:
        raise FunctionListRefused(file, "", f"{size:,} bytes; a list may have {LARGEST_LIST_BYTES:,}")
    if isinstance(data, bytes):
        for start, reason in _NOT_A_LIST.items():
            if data.startswith(start):
                raise FunctionListRefused(file, "", reason)
        if data.startswith(b"PK\x03\x04"):
            return read_xlsx_table(data, file), True
    return read_text_table(data, file, separator), False


def _check_chosen(columns: Mapping[int, str], table: RawTable, file: str) -> None:
    width = max(len(row.cells) for row in table.rows)
    for index, field in columns.items():
        if not 0 <= index < width:
            raise FunctionListRefused(file, f"column {index + 1}", f"does not exist: there are {width}")
        if field and field not in FIELDS:
            raise FunctionListRefused(file, f"column {index + 1}", f"cannot be taken as “{field}”")
    fields = [field for field in columns.values() if field]
    for field in FIELDS:
        if fields.count(field) > 1:
            raise FunctionListRefused(file, "columns", f"“{field}” is chosen for more than one")


def _list_row(row: RawRow, taken: tuple[ColumnTaken, ...], heading_count: int | None) -> ListRow:
    values = {
        column.field: cell
        for column, cell in zip_longest(taken, row.cells, fillvalue="")
        if isinstance(column, ColumnTaken) and column.field and cell and isinstance(cell, str)
    }
    trouble = row.trouble
    if not trouble and heading_count is not None and any(row.cells[heading_count:]):
        trouble = f"it has {len(row.cells)} cells under {heading_count} headings: a separator too many"
    for column in taken:
        if not trouble and column.index in row.dates and column.field not in ("", "note"):
            made = row.cells[column.index]
            trouble = (
                f"column {column.index + 1} holds the date {made}: mark it as text if it was a range like 3-5"
            )
    if not trouble and "name" not in values:
        trouble = "it has no name"
    return ListRow(row.line, row.cells, values, trouble)
