"""A function list as text: cells parted by tabs, semicolons or commas.

The format leaves undefined: the encoding, the separator, whether a quote is a quote or an inch mark. Text is
taken as UTF-8 (or UTF-16 with its mark), else as Windows-1252, and which is said. The separator is the one that
parts the rows alike, tabs before semicolons before commas. Quotes follow RFC 4180.
"""

import codecs
import csv
import io
from collections import Counter

from app.readers.function_table import MOST_COLUMNS, MOST_ROWS, FunctionListRefused, RawRow, RawTable, raw_row

SEPARATOR_NAMES = {"\t": "tab", ";": "semicolon", ",": "comma"}


def read_text_table(data: bytes | str, file: str, separator_name: str = "") -> RawTable:
    """Read the rows of a list in text, its separator looked for unless it is named.

    Raises:
        FunctionListRefused: it is no text, has a quote without an end, or is larger than a list can be.
    """
    text, notes = (data, ()) if isinstance(data, str) else _decoded(data, file)
    text = text.removeprefix("\ufeff")
    if "\x00" in text:
        line = text.count("\n", 0, text.index("\x00")) + 1
        raise FunctionListRefused(file, f"line {line}", "holds zero bytes: it is not text")
    named = (sign for sign, name in SEPARATOR_NAMES.items() if name == separator_name)
    separator = next(named, None) or _separator_of(text)
    rows = _rows_of(text, separator, file, has_quotes=True)
    if rows is None and separator == "\t":
        rows = _rows_of(text, separator, file, has_quotes=False)
        notes = (*notes, "Quotes were taken as they stand: one of them has no end.")
    if rows is None:
        reason = "a quoted cell has no end, or text behind its end"
        raise FunctionListRefused(file, f"line {_line_of_trouble(text, separator)}", reason)
    return RawTable(rows, SEPARATOR_NAMES[separator], notes)


def _decoded(data: bytes, file: str) -> tuple[str, tuple[str, ...]]:
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return data.decode("utf-16"), ("Read as UTF-16.",)
        except UnicodeDecodeError as error:
            raise FunctionListRefused(
                file, f"byte {error.start}", "is not UTF-16, as its mark says"
            ) from error
    try:
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252"), ("Read as Windows-1252, as it is not UTF-8: check accents and signs.",)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise FunctionListRefused(
            file, f"line {line}", "is text neither in UTF-8 nor in Windows-1252"
        ) from error


def _separator_of(text: str) -> str:
    """The separator that parts most of the first rows into equally many cells."""
    lines = [line for line in text[:100_000].splitlines() if line.strip()][:50]
    for separator in ("\t", ";"):
        counts = Counter(line.count(separator) for line in lines)
        if lines and sum(count for marks, count in counts.items() if marks) >= 0.8 * len(lines):
            return separator
    # A list of one column with a heading has none at all; a stray semicolon in a note does not make a separator.
    return ","


def _rows_of(text: str, separator: str, file: str, *, has_quotes: bool) -> tuple[RawRow, ...] | None:
    """The rows that hold something, or None where the quotes do not close."""
    lines = io.StringIO(text, newline="")
    reader = (
        csv.reader(lines, delimiter=separator, strict=True)
        if has_quotes
        else csv.reader(lines, delimiter=separator, quoting=csv.QUOTE_NONE)
    )
    rows: list[RawRow] = []
    line = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return tuple(rows)
        except csv.Error as error:
            if "field limit" in str(error):
                raise FunctionListRefused(file, f"line {line}", "a cell is too long for a list") from error
            return None
        if any(cell.strip() for cell in cells):
            if len(rows) > MOST_ROWS:
                raise FunctionListRefused(file, f"line {line}", f"more than {MOST_ROWS:,} rows are not read")
            if len(cells) > MOST_COLUMNS:
                reason = f"{len(cells):,} columns; at most {MOST_COLUMNS} are read"
                raise FunctionListRefused(file, f"line {line}", reason)
            rows.append(raw_row(line, cells))
        line = reader.line_num + 1


def _line_of_trouble(text: str, separator: str) -> int:
    """The line where the row begins that cannot be read."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = 1
    try:
        for _ in reader:
            line = reader.line_num + 1
    except csv.Error:
        return line
    return line
