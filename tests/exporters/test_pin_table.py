"""The table of pins: comma-separated values by RFC 4180, safe to open in a spreadsheet."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.exporters.pin_table import HEADINGS, PinTableRow, pin_table

# OWASP, "CSV Injection": characters that begin a formula or a new cell, and their full-width kin.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def read_back(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))


def test_what_is_written_reads_back_as_it_was() -> None:
    row = PinTableRow(
        "D2",
        "PD2",
        "used",
        "F001",
        'Gear "up", left; 🛩️',
        "signal",
        "PIN_GEAR",
        "white/red",
        "must be high\nat reset",
    )
    data = pin_table([row, PinTableRow("GND 1", state="ground")])
    assert data.startswith(b"\xef\xbb\xbf")
    assert read_back(data) == [
        list(HEADINGS),
        [
            "D2",
            "PD2",
            "used",
            "F001",
            'Gear "up", left; 🛩️',
            "signal",
            "PIN_GEAR",
            "white/red",
            "must be high\nat reset",
        ],
        ["GND 1", "", "ground", "", "", "", "", "", ""],
    ]


def test_lines_end_as_the_standard_says_and_every_cell_is_in_quotes() -> None:
    # RFC 4180, section 2, rules 1 and 5.
    text = pin_table([PinTableRow("D2")]).decode("utf-8-sig")
    assert text.endswith("\r\n")
    assert text.count("\r\n") == 2
    assert all(cell.startswith('"') and cell.endswith('"') for cell in text.splitlines()[1].split(","))


@pytest.mark.parametrize(
    "hostile",
    [
        "=1+1",
        "+1",
        "-1",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "\n=1",
        "  =1",
        "\xa0=1",
        "\0=1",
        "＝1",
        '=HYPERLINK("x")',
        "-",
    ],
)
def test_no_cell_is_taken_for_a_formula(hostile: str) -> None:
    cells = read_back(pin_table([PinTableRow(hostile, hostile, wire=hostile)]))[1]
    assert cells[0] == cells[1] == cells[7] == "'" + hostile.replace("\0", "")


@given(st.text(max_size=12))
def test_a_cell_is_unchanged_or_begins_with_an_apostrophe(text: str) -> None:
    cell = read_back(pin_table([PinTableRow("D2", function_name=text)]))[1][4]
    plain = text.replace("\0", "").encode("utf-8", "replace").decode()
    assert cell in (plain, f"'{plain}")
    assert not cell.startswith(FORMULA)
    assert (cell == plain) or plain.lstrip().startswith(FORMULA) or plain.startswith(FORMULA)
