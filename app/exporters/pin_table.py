"""The pins of a board as a table of comma-separated values, for a spreadsheet."""

import csv
import io
from collections.abc import Sequence
from dataclasses import astuple, dataclass

HEADINGS = (
    "pin",
    "chip pin",
    "state",
    "function",
    "function name",
    "terminal",
    "name in C",
    "wire",
    "conditions",
)
"""Headings, in the order of the fields of `PinTableRow`."""

_STARTS_A_FORMULA = "=+-@＝＋－＠"
_STARTS_A_CELL = "\t\r\n\0"


@dataclass(frozen=True, slots=True)
class PinTableRow:
    """One pin of a board, in the words of its sheet; "" for what is not known or does not apply."""

    pin_label: str
    chip_pin: str = ""
    state: str = ""
    function_code: str = ""
    function_name: str = ""
    terminal: str = ""
    identifier: str = ""
    wire: str = ""
    conditions: str = ""


def _cell(text: str) -> str:
    """Return text that a spreadsheet shows and never computes.

    >>> _cell("=1+1"), _cell(" -5 V"), _cell("5 V - 1")
    ("'=1+1", "' -5 V", '5 V - 1')
    """
    text = text.replace("\0", "")
    bare = text.lstrip()
    return f"'{text}" if bare[:1] in tuple(_STARTS_A_FORMULA) or text[:1] in tuple(_STARTS_A_CELL) else text


def pin_table(rows: Sequence[PinTableRow]) -> bytes:
    """Return the pins as a table, headings first.

    Args:
        rows: The pins, in the order they are to stand.

    Returns:
        Comma-separated values by RFC 4180 (lines end in CR LF, quotes doubled), every cell in quotes, in
        UTF-8 with a byte order mark, by which spreadsheets know the encoding. A cell that a spreadsheet could
        take for a formula begins with an apostrophe (OWASP, "CSV Injection"; Application Security
        Verification Standard 5.0, 1.2.10).
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    writer.writerows([_cell(value) for value in astuple(row)] for row in rows)
    return text.getvalue().encode("utf-8-sig", "replace")
