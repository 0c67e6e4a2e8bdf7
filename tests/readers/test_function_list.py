import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.readers.function_columns import FIELDS, HEADING_MAP, field_of_heading, looks_like_headings
from app.readers.function_list import FunctionListRefused, read_function_list, split_wiring

# The fuel panel of the invented demo cockpit: scenario.md section 4, P07.
HEADINGS = ["Id", "Function", "Kind", "Range or colour", "Signal", "Wiring"]
FUEL = [
    ["F083", "Fuel left", "gauge", "0-700 kg", "fuel.left_kg", "gs4"],
    ["F084", "Fuel right", "gauge", "0-700 kg", "fuel.right_kg", "gs4"],
    ["F085", "Fuel centre", "gauge", "0-700 kg", "fuel.centre_kg", "gs4"],
    ["F086", "Crossfeed", "selector", "4 positions", "cmd.crossfeed", "rot n=4"],
    ["F087", "Boost pump left", "switch", "on-off", "cmd.boost_l", "tg"],
    ["F088", "Boost pump right", "switch", "on-off", "cmd.boost_r", "tg"],
    ["F089", "LEFT LOW", "light", "amber", "fuel.left_low", "led"],
    ["F090", "RIGHT LOW", "light", "amber", "fuel.right_low", "led"],
    ["F091", "Fuel total", "display", "5 numerals", "fuel.total_kg", "o32"],
]
TAKEN = ["id", "name", "kind", "range", "signal", "wiring"]


def written(rows: list[list[str]], separator: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=separator).writerows(rows)
    return out.getvalue()


@pytest.mark.parametrize(("separator", "name"), [("\t", "tab"), (",", "comma"), (";", "semicolon")])
@pytest.mark.parametrize("has_headings", [True, False])
def test_a_list_is_read_with_any_separator_with_and_without_headings(
    separator: str, name: str, has_headings: bool
) -> None:
    found = read_function_list(written([HEADINGS, *FUEL] if has_headings else FUEL, separator))
    assert found.separator == name
    assert found.has_headings == has_headings
    assert [column.field for column in found.columns] == TAKEN
    assert [list(row.values.values()) for row in found.rows] == FUEL
    assert [row.line for row in found.rows] == list(range(1 + has_headings, 10 + has_headings))
    assert [row.trouble for row in found.rows] == [""] * 9


def test_each_column_says_why_it_was_taken() -> None:
    by_heading = read_function_list(written([HEADINGS, *FUEL], "\t"))
    assert {column.reason for column in by_heading.columns} == {"its heading says so"}
    by_content = {column.field: column.reason for column in read_function_list(written(FUEL, "\t")).columns}
    assert by_content["wiring"] == "9 of 9 cells are wiring words"
    assert by_content["kind"] == "9 of 9 cells are kinds of functions"
    assert by_content["range"] == "9 of 9 cells are ranges or colours"
    assert by_content["id"] == "short codes, no two alike"
    assert by_content["name"].startswith("9 of 9 cells are words")


def test_columns_in_another_order_with_panel_board_and_positions_are_found() -> None:
    rows = [["BD06", row[5].split()[0], "4", row[2], row[4], row[1], "P07", row[3], row[0]] for row in FUEL]
    found = read_function_list(written(rows, "\t"))
    fields = ["board", "wiring", "n", "kind", "signal", "name", "panel", "range", "id"]
    assert [column.field for column in found.columns] == fields


def test_a_column_can_be_taken_otherwise_or_left_out() -> None:
    text = written([HEADINGS, *FUEL], "\t")
    found = read_function_list(text, columns={3: "note", 4: ""})
    assert [column.field for column in found.columns] == ["id", "name", "kind", "note", "", "wiring"]
    assert found.columns[3].reason == "chosen by you"
    assert found.rows[0].values["note"] == "0-700 kg"
    assert "signal" not in found.rows[0].values
    swapped = read_function_list(text, columns={1: "signal", 4: "name"})
    assert [column.field for column in swapped.columns] == ["id", "signal", "kind", "range", "name", "wiring"]


def test_choosing_one_column_frees_no_other_from_its_heading() -> None:
    found = read_function_list(written([HEADINGS, *FUEL], "\t"), columns={3: "name"})
    assert [column.field for column in found.columns] == ["id", "", "kind", "name", "signal", "wiring"]
    assert found.columns[1].reason == "“name” is already taken from another column"


@pytest.mark.parametrize(
    ("columns", "place", "says"),
    [
        ({99: "name"}, "column 100", "does not exist: there are 6"),
        ({0: "colour of the sky"}, "column 1", "cannot be taken as “colour of the sky”"),
        ({0: "name", 1: "name"}, "columns", "“name” is chosen for more than one"),
    ],
)
def test_a_choice_that_cannot_be_is_refused(columns: dict[int, str], place: str, says: str) -> None:
    with pytest.raises(FunctionListRefused) as refused:
        read_function_list(written(FUEL, "\t"), "fuel.csv", columns=columns)
    assert (refused.value.file, refused.value.place) == ("fuel.csv", place)
    assert says in refused.value.reason


def test_whether_there_are_headings_can_be_said() -> None:
    text = written([HEADINGS, *FUEL], "\t")
    assert len(read_function_list(text, has_headings=False).rows) == 10
    assert len(read_function_list(written(FUEL, "\t"), has_headings=True).rows) == 8


def test_an_unknown_heading_is_left_out_and_says_so() -> None:
    rows = [[*HEADINGS, "Mood"], *[[*row, "gs4"] for row in FUEL]]
    found = read_function_list(written(rows, ";"))
    assert (found.columns[6].field, found.columns[6].reason) == ("", "its heading is not known")


def test_a_list_of_names_alone_is_a_list() -> None:
    found = read_function_list("Airspeed\nAltimeter\n\nClimb rate\n")
    assert [row.values["name"] for row in found.rows] == ["Airspeed", "Altimeter", "Climb rate"]
    assert [row.line for row in found.rows] == [1, 2, 4]


def test_a_comma_within_a_pasted_cell_parts_nothing() -> None:
    found = read_function_list("F001\tAirspeed\tgauge\t0-180 kt, crowded below 40\tair.speed_kt\tgs4")
    assert found.rows[0].values["range"] == "0-180 kt, crowded below 40"


def test_quoted_cells_may_hold_separators_quotes_and_lines() -> None:
    # RFC 4180 section 2, rules 5 to 7: quoted fields may hold line breaks, quotes (doubled) and commas.
    text = 'Function,Range,Note\r\n"Tank, left","0-5 ""l""","first\r\nsecond"\r\nTank right,0-5 l,\r\n'
    found = read_function_list(text)
    assert found.rows[0].values == {"name": "Tank, left", "range": '0-5 "l"', "note": "first\r\nsecond"}
    assert [row.line for row in found.rows] == [2, 4]


def test_a_quote_without_an_end_is_refused_with_its_line() -> None:
    with pytest.raises(FunctionListRefused) as refused:
        read_function_list('Function,Range\nAirspeed,0-180 kt\n"Altimeter,endless\nClimb,0-5\n', "a.csv")
    assert refused.value.place == "line 3"
    assert "no end" in refused.value.reason


def test_an_inch_mark_in_a_pasted_list_is_not_a_quote() -> None:
    found = read_function_list('Function\tNote\n"3 1/8 dial\tround\nother\t5\n')
    assert [row.values["name"] for row in found.rows] == ['"3 1/8 dial', "other"]
    assert found.notes == ("Quotes were taken as they stand: one of them has no end.",)


@pytest.mark.parametrize(
    ("encoding", "notes"),
    [
        ("utf-8", ()),
        ("utf-8-sig", ()),
        ("utf-16", ("Read as UTF-16.",)),
        ("cp1252", ("Read as Windows-1252, as it is not UTF-8: check accents and signs.",)),
    ],
)
def test_a_file_in_any_usual_encoding_is_read_and_another_is_said(
    encoding: str, notes: tuple[str, ...]
) -> None:
    found = read_function_list("Function\tRange\nÖlstand\t±30 °\n".encode(encoding), "a.txt")
    assert found.rows[0].values == {"name": "Ölstand", "range": "±30 °"}
    assert found.notes == notes


def test_names_with_markup_other_scripts_and_pictures_are_text() -> None:
    names = ["<script>alert(1)</script>", "مقياس السرعة", "🛩️ lamp", "x" * 300, "=HYPERLINK(1)"]
    found = read_function_list("Function\n" + "\n".join(names))
    assert [row.values["name"] for row in found.rows] == names


def test_rows_that_cannot_be_used_say_why_and_the_others_stay() -> None:
    text = "Function,Kind\nAirspeed,gauge\n,gauge\nTank, left,gauge\n" + "x" * 2001 + ",gauge\n"
    found = read_function_list(text)
    assert [row.trouble for row in found.rows] == [
        "",
        "it has no name",
        "it has 3 cells under 2 headings: a separator too many",
        "a cell holds 2,001 characters; at most 2,000 are read",
    ]


@pytest.mark.parametrize(
    ("data", "place", "says"),
    [
        ("", "", "there is nothing in it"),
        (" \n\t\n", "", "there is nothing in it"),
        (b"", "", "there is nothing in it"),
        (b"a\nb\x00c", "line 2", "zero bytes"),
        (b"a\n\x81\x8d", "line 2", "neither in UTF-8 nor in Windows-1252"),
        (b"\xff\xfea", "byte", "is not UTF-16"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "", "workbook of the old kind"),
        (b"%PDF-1.7", "", "is a PDF"),
        (b"\x7fELF\x01", "", "is a program"),
        ("a,b\n" * 5001, "line 5001", "more than 5,000 rows"),
        ("Function\n" + "a\n" * 5001, "line 5002", "more than 5,000 rows"),
        ("a\n" * 9000, "line 5002", "more than 5,000 rows"),
        (",".join("a" * 61), "line 1", "61 columns; at most 60"),
        ("a" * 200_000, "line 1", "a cell is too long"),
        (b"a" * (5 * 1024 * 1024 + 1), "", "5,242,881 bytes; a list may have 5,242,880"),
    ],
)
def test_what_cannot_be_a_list_is_refused_with_file_place_and_reason(
    data: bytes | str, place: str, says: str
) -> None:
    with pytest.raises(FunctionListRefused) as refused:
        read_function_list(data, "my list.csv")
    assert refused.value.file == "my list.csv"
    assert refused.value.place.startswith(place)
    assert says in refused.value.reason
    assert str(refused.value).startswith("my list.csv: ")


def test_five_thousand_rows_are_read() -> None:
    assert len(read_function_list("Function\n" + "a\n" * 5000).rows) == 5000


@given(st.text(max_size=400))
def test_any_text_is_read_or_refused_and_nothing_else(text: str) -> None:
    try:
        found = read_function_list(text)
    except FunctionListRefused:
        return
    assert all(row.trouble or row.values["name"] for row in found.rows)


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_and_nothing_else(data: bytes) -> None:
    try:
        found = read_function_list(data)
    except FunctionListRefused:
        return
    assert found.format == "text"


def test_headings_are_known_by_many_names() -> None:
    assert set(HEADING_MAP.values()) == set(FIELDS)
    assert [
        field_of_heading(text) for text in ("Function ID", "Range/Colour", "REMARKS", "Wired as", "?")
    ] == [
        "id",
        "range",
        "note",
        "wiring",
        "",
    ]
    assert looks_like_headings(["Function"])
    assert not looks_like_headings(["F013", "HEIGHT LOW", "light"])
    assert not looks_like_headings(["Panel", "Airspeed"])


# scenario.md section 4 writes the positions of a selector behind its wiring word.
@pytest.mark.parametrize(
    ("text", "word", "positions"),
    [
        ("lad n=6", "lad", 6),
        ("rot n = 4", "rot", 4),
        ("mx (n=3)", "mx", 3),
        ("gs4", "gs4", None),
        ("", "", None),
    ],
)
def test_a_wiring_cell_is_parted(text: str, word: str, positions: int | None) -> None:
    assert split_wiring(text) == (word, positions)


def test_words_of_the_builders_own_starter_list_can_be_known() -> None:
    rows = [["Airspeed", "own1"], ["Altimeter", "own2"]]
    own = read_function_list(written(rows, "\t"), wiring_words={"own1", "own2"})
    assert [column.field for column in own.columns] == ["name", "wiring"]
