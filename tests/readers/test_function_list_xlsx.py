import datetime
import io
import time
import zipfile
from collections.abc import Iterable

import openpyxl
import pytest

from app.readers.function_list import FunctionListRefused, read_function_list


def workbook(*sheets: tuple[str, Iterable[Iterable[object]]]) -> bytes:
    """A workbook as the library writes it, so that our reading is not checked against our own writing."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets:
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def changed(data: bytes, name: str, content: bytes) -> bytes:
    """The workbook with one entry of its archive put in or replaced."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            if entry.filename != name:
                new.writestr(entry.filename, old.read(entry))
        new.writestr(name, content)
    return out.getvalue()


def sheet_of(row: str) -> bytes:
    return (
        '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        f"{row}</sheetData></worksheet>"
    ).encode()


PLAIN = workbook(("List", [["Function", "Kind", "Range"], ["Airspeed", "gauge", "0-180 kt"]]))
FIRST_SHEET = "xl/worksheets/sheet1.xml"


def refusal_of(data: bytes) -> FunctionListRefused:
    with pytest.raises(FunctionListRefused) as refused:
        read_function_list(data, "list.xlsx")
    assert refused.value.file == "list.xlsx"
    return refused.value


def test_a_workbook_is_read_like_a_pasted_list() -> None:
    found = read_function_list(PLAIN, "list.xlsx")
    assert (found.format, found.has_headings, found.notes) == ("xlsx", True, ())
    assert found.rows[0].values == {"name": "Airspeed", "kind": "gauge", "range": "0-180 kt"}
    assert found.rows[0].line == 2


def test_the_fullest_sheet_is_read_and_named() -> None:
    data = workbook(("Cover", [["hello"]]), ("Functions", [["Function"], ["A"], ["B"]]), ("Empty", []))
    found = read_function_list(data, "list.xlsx")
    assert [row.values["name"] for row in found.rows] == ["A", "B"]
    assert found.notes == ("Sheet “Functions” was read, the fullest of 2.",)


def test_numbers_go_back_to_the_text_that_was_typed() -> None:
    data = workbook(("List", [["Function", "Note", "n"], [3, 0.1, 6.0], [True, 1e21, 2.5]]))
    found = read_function_list(data)
    assert found.rows[0].values == {"name": "3", "note": "0.1", "n": "6"}
    assert found.rows[1].values == {"name": "yes", "note": "1e+21", "n": "2.5"}


def test_a_percentage_keeps_its_sign() -> None:
    book = openpyxl.Workbook()
    book.active.append(["Function", "Note"])
    book.active.append(["Torque", 0.85])
    book.active["B2"].number_format = "0%"
    out = io.BytesIO()
    book.save(out)
    assert read_function_list(out.getvalue()).rows[0].values["note"] == "85 %"


def test_a_range_that_became_a_date_is_refused_and_a_dated_note_is_not() -> None:
    day = datetime.datetime(2025, 5, 3, tzinfo=None)  # noqa: DTZ001 - a cell has no time zone
    data = workbook(("List", [["Function", "Range", "Note"], ["Window", day, "x"], ["Lamp", "amber", day]]))
    found = read_function_list(data)
    assert found.rows[0].trouble == (
        "column 2 holds the date 2025-05-03: mark it as text if it was a range like 3-5"
    )
    assert found.rows[1].trouble == ""
    assert found.rows[1].values["note"] == "2025-05-03"


def test_blank_rows_and_columns_are_passed_over() -> None:
    data = workbook(("List", [[None, "Function"], [None, None], [None, "A"], ["", ""], [None, "B"]]))
    found = read_function_list(data)
    assert [(row.line, row.values["name"]) for row in found.rows] == [(3, "A"), (5, "B")]


def test_too_many_rows_or_columns_are_refused_with_their_place() -> None:
    refused = refusal_of(workbook(("List", [["Function"], *[["a"]] * 5001])))
    assert (refused.place, refused.reason) == ("sheet “List”, row 5002", "more than 5,000 rows are not read")
    refused = refusal_of(workbook(("List", [["a"] * 61])))
    assert (refused.place, refused.reason) == ("sheet “List”, row 1", "more than 60 columns are not read")


def test_an_empty_workbook_is_refused() -> None:
    assert refusal_of(workbook(("List", []))).reason == "has no sheet with cells"


def test_another_kind_of_archive_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("content.xml", "<a/>")
    assert "no workbook of the .xlsx kind" in refusal_of(out.getvalue()).reason


@pytest.mark.parametrize("length", [4, 30, 200, 1000, len(PLAIN) - 30])
def test_a_workbook_cut_short_is_refused(length: int) -> None:
    assert "damaged" in refusal_of(PLAIN[:length]).reason


def test_a_workbook_with_broken_content_is_refused() -> None:
    assert (
        "cannot be read as a workbook" in refusal_of(changed(PLAIN, FIRST_SHEET, b"<worksheet><row>")).reason
    )
    assert refusal_of(changed(PLAIN, "xl/workbook.xml", b"<a/>")).reason == "has no sheet with cells"


def test_an_entry_packed_too_tightly_is_refused_before_it_is_unpacked() -> None:
    # trials.md: a small archive can unpack to gigabytes; ratio at most 100. 20 MB of spaces pack about 1,000 times.
    refused = refusal_of(changed(PLAIN, "xl/media/image1.png", b" " * 20_000_000))
    assert refused.place == "xl/media/image1.png"
    assert "times; at most 100" in refused.reason


def test_an_archive_that_unpacks_to_too_much_is_refused() -> None:
    refused = refusal_of(changed(PLAIN, "xl/media/image1.png", b" " * (33 * 1024 * 1024)))
    assert refused.place == "archive"
    assert "are unpacked" in refused.reason


def test_an_archive_with_too_many_entries_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for number in range(1001):
            archive.writestr(str(number), "")
    assert "1,001 entries; at most 1,000" in refusal_of(out.getvalue()).reason


def test_entities_within_entities_are_refused() -> None:
    bomb = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>' + sheet_of(
        '<row r="1"><c r="A1" t="inlineStr"><is><t>&b;</t></is></c></row>'
    )
    refused = refusal_of(changed(PLAIN, FIRST_SHEET, bomb))
    assert (refused.place, refused.reason) == (FIRST_SHEET, "defines entities or is not plain UTF-8")
    assert "UTF-8" in refusal_of(changed(PLAIN, FIRST_SHEET, bomb.decode().encode("utf-16"))).reason


def test_a_row_said_to_lie_billions_down_does_not_hang_the_reading() -> None:
    row = '<row r="4000000000"><c r="A4000000000" t="inlineStr"><is><t>a</t></is></c></row>'
    started = time.perf_counter()
    refused = refusal_of(changed(PLAIN, FIRST_SHEET, sheet_of(row)))
    assert time.perf_counter() - started < 5
    assert refused.reason == "rows beyond 20,000 are not read"


def test_a_cell_far_to_the_right_does_not_widen_every_row() -> None:
    row = '<row r="1"><c r="XFD1" t="inlineStr"><is><t>a</t></is></c></row>'
    found = refusal_of(changed(PLAIN, FIRST_SHEET, sheet_of(row)))
    assert found.reason in ("has no sheet with cells", "more than 60 columns are not read")
