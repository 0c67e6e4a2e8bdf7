"""A function list written as text and read again: whatever was in it, the second reading says what the first did."""

from hypothesis import given, settings
from hypothesis import strategies as st

from app.planning.bring_in_text import SEPARATOR, list_as_text
from app.readers.function_list import FunctionList, FunctionListRefused, read_function_list

CELL = st.text(st.sampled_from('Oil lamp,;"\t\n\r-0é’3\u2028'), max_size=8)
ROWS = st.lists(st.lists(CELL, min_size=1, max_size=5), min_size=1, max_size=8)


def said(read: FunctionList) -> list[tuple[dict[str, str], str]]:
    """What each row says, a cell's spaces and line ends told as one space each."""
    return [
        (
            {field: " ".join(cell.split()) for field, cell in row.values.items() if cell.split()},
            row.trouble,
        )
        for row in read.rows
    ]


@settings(max_examples=400, deadline=None)
@given(ROWS, st.sampled_from("\t;,"), st.booleans())
def test_any_list_read_again_from_its_text_says_the_same(
    rows: list[list[str]], separator: str, has_headings: bool
) -> None:
    text = "\n".join(separator.join(row) for row in rows)
    try:
        read = read_function_list(text, has_headings=has_headings)
    except FunctionListRefused:
        return  # nothing in it, or a quote that has no end: it is never written
    again = read_function_list(
        list_as_text(read),
        columns={column.index: column.field for column in read.columns},
        has_headings=has_headings,
        separator=SEPARATOR,
    )
    assert said(again) == said(read)
