"""A function list as a workbook (Office Open XML, ECMA-376).

The format leaves undefined: which sheet holds the list (the one with most rows is taken, and said), and what was
typed where the spreadsheet made a date or a number of it. A number goes back to its plain text; a date cannot, and
its row says so, as a range like 3-5 becomes one. Formulas give the value last saved with them.
"""

import datetime
import io
import warnings
import zipfile
from typing import Any

from app.readers.function_table import MOST_COLUMNS, MOST_ROWS, FunctionListRefused, RawRow, RawTable, raw_row

# A workbook of 5 MB can unpack to gigabytes: what it declares is looked at before anything is unpacked, and the
# unpacking stops at what was declared. A small entry may be packed as tightly as it likes.
LARGEST_UNPACKED_BYTES = 32 * 1024 * 1024
LARGEST_RATIO = 100
SMALL_ENTRY_BYTES = 1024 * 1024
MOST_ENTRIES = 1_000
MOST_SHEETS = 20
MOST_ROWS_LOOKED_AT = 20_000


def read_xlsx_table(data: bytes, file: str) -> RawTable:
    """Read the rows of the fullest sheet of a workbook.

    Raises:
        FunctionListRefused: it is no workbook, is damaged, or unpacks to more than a list can need.
    """
    _look_before_unpacking(data, file)
    try:
        sheets = _sheets_of(data, file)
    except FunctionListRefused:
        raise
    except Exception as error:  # the library answers a damaged workbook with errors of many kinds
        reason = f"cannot be read as a workbook ({type(error).__name__})"
        raise FunctionListRefused(file, "workbook", reason) from error
    if not sheets:
        raise FunctionListRefused(file, "workbook", "has no sheet with cells")
    title, rows = max(sheets, key=lambda sheet: len(sheet[1]))
    notes = (f"Sheet “{title}” was read, the fullest of {len(sheets)}.",) if len(sheets) > 1 else ()
    return RawTable(rows, "", notes)


def _look_before_unpacking(data: bytes, file: str) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _look_at_entries(archive, file)
    except FunctionListRefused:
        raise
    except Exception as error:  # a broken archive raises the packer's own errors, of many kinds
        reason = f"is damaged or locked ({type(error).__name__})"
        raise FunctionListRefused(file, "archive", reason) from error


def _look_at_entries(archive: zipfile.ZipFile, file: str) -> None:
    entries = archive.infolist()
    if len(entries) > MOST_ENTRIES:
        reason = f"{len(entries):,} entries; at most {MOST_ENTRIES:,} are read"
        raise FunctionListRefused(file, "archive", reason)
    if not any(entry.filename == "[Content_Types].xml" for entry in entries):
        raise FunctionListRefused(file, "archive", "is an archive, but no workbook of the .xlsx kind")
    unpacked = sum(entry.file_size for entry in entries)
    if unpacked > LARGEST_UNPACKED_BYTES:
        reason = f"unpacks to {unpacked:,} bytes; at most {LARGEST_UNPACKED_BYTES:,} are unpacked"
        raise FunctionListRefused(file, "archive", reason)
    for entry in entries:
        _look_at_entry(archive, entry, file)


def _look_at_entry(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, file: str) -> None:
    """Refuse an entry packed too tightly, and one that defines entities, which a workbook never does."""
    is_large = entry.file_size > SMALL_ENTRY_BYTES
    if is_large and entry.file_size > LARGEST_RATIO * max(1, entry.compress_size):
        ratio = entry.file_size // max(1, entry.compress_size)
        raise FunctionListRefused(file, entry.filename, f"unpacks {ratio:,} times; at most {LARGEST_RATIO}")
    if entry.filename.lower().endswith((".xml", ".rels")):
        content = archive.read(entry)
        if b"<!" in content.replace(b"<!--", b"").replace(b"<![CDATA[", b"") or b"\x00" in content:
            raise FunctionListRefused(file, entry.filename, "defines entities or is not plain UTF-8")


def _sheets_of(data: bytes, file: str) -> list[tuple[str, tuple[RawRow, ...]]]:
    import openpyxl

    sheets: list[tuple[str, tuple[RawRow, ...]]] = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of styles and extensions that a list does not need
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
        try:
            for sheet in book.worksheets[:MOST_SHEETS]:
                sheet.reset_dimensions()  # what a sheet says of its own size is often wrong
                rows = _rows_of(sheet, file)
                if rows:
                    sheets.append((str(sheet.title), rows))
        finally:
            book.close()
    return sheets


def _rows_of(sheet: Any, file: str) -> tuple[RawRow, ...]:
    rows: list[RawRow] = []
    for line, cells in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS + 1), start=1):
        if line > MOST_ROWS_LOOKED_AT:
            reason = f"rows beyond {MOST_ROWS_LOOKED_AT:,} are not read"
            raise FunctionListRefused(file, f"sheet “{sheet.title}”", reason)
        texts = [_text_of(cell) for cell in cells]
        if not any(text.strip() for text in texts):
            continue
        place = f"sheet “{sheet.title}”, row {line}"
        if len(texts) > MOST_COLUMNS and any(text.strip() for text in texts[MOST_COLUMNS:]):
            raise FunctionListRefused(file, place, f"more than {MOST_COLUMNS} columns are not read")
        if len(rows) > MOST_ROWS:
            raise FunctionListRefused(file, place, f"more than {MOST_ROWS:,} rows are not read")
        dates = tuple(index for index, cell in enumerate(cells) if _is_date(cell))
        rows.append(raw_row(line, texts[:MOST_COLUMNS], dates))
    return tuple(rows)


def _text_of(cell: Any) -> str:
    """The value of a cell as a person would have typed it."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        number_format = getattr(cell, "number_format", None) or ""
        return f"{value * 100:.12g} %" if "%" in number_format else f"{value:.15g}"
    if isinstance(value, datetime.datetime) and value.time() == datetime.time():
        return value.date().isoformat()
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return str(value)


def _is_date(cell: Any) -> bool:
    return isinstance(cell.value, datetime.date | datetime.time | datetime.timedelta)
