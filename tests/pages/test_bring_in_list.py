"""Bringing a function list in through the browser's form: shown first, corrected, kept.

What is to happen is written in issue 2, "What the builder does", 2: reason alone decides these cases. The rows are
the fuel panel of the invented demo cockpit (scenario.md section 4, P07).
"""

import csv
import io

import openpyxl
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response
from sqlalchemy import event
from sqlmodel import Session, col, select

from app.tables import Candidate, Component, Function, Panel
from tests.pages.form_reader import fields_of
from tests.pages.sheet_reader import read_sheet
from tests.pages.sheet_text import message_at, words_of

HEADINGS = ["Id", "Function", "Kind", "Range or colour", "Signal", "Wiring"]
FUEL = [
    ["F083", "Fuel left", "gauge", "0-700 kg", "fuel.left_kg", "gs4"],
    ["F084", "Fuel right", "gauge", "0-700 kg", "fuel.right_kg", "gs4"],
    ["F086", "Crossfeed", "selector", "4 positions", "cmd.crossfeed", "rot n=4"],
    ["F087", "Boost pump left", "switch", "on-off", "cmd.boost_l", "tg"],
    ["F089", "LEFT LOW", "light", "amber", "fuel.left_low", "led"],
]


def written(rows: list[list[str]], separator: str = "\t") -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\n").writerows(rows)
    return out.getvalue()


def show(client: TestClient, text: str, **more: str) -> Response:
    return client.post("/bring-in", data={"list": text, "panel": "P07", **more})


def keep(client: TestClient, shown: Response, **changes: str) -> Response:
    """Press the button that keeps, as a browser would send the preview, some entries changed."""
    return client.post(
        "/bring-in/keep",
        data={**fields_of(shown.text, "/bring-in/keep"), **changes},
        follow_redirects=False,
    )


def look_again(client: TestClient, shown: Response, **changes: str) -> Response:
    return client.post("/bring-in", data={**fields_of(shown.text, "/bring-in/keep"), **changes})


def functions(session: Session) -> list[Function]:
    session.expire_all()
    return list(session.exec(select(Function).order_by(col(Function.panel_id), col(Function.place))).all())


def chosen(session: Session) -> dict[str, str]:
    """The component chosen for each function, by its name."""
    rows = session.exec(
        select(Function.name, Component.code)
        .join(Candidate, col(Candidate.function_id) == Function.id)
        .join(Component, col(Component.id) == Candidate.component_id)
        .where(Candidate.state == "chosen")
    ).all()
    return dict(rows)


def test_the_empty_form_states_its_limit_and_takes_the_panel_from_the_address(client: TestClient) -> None:
    page = client.get("/bring-in?panel=P07").text
    assert "At most 5 MB." in page
    assert fields_of(page, "/bring-in")["panel"] == "P07"


@pytest.mark.parametrize("separator", ["\t", ",", ";"])
@pytest.mark.parametrize("headings", [[HEADINGS], []], ids=["headings", "bare"])
def test_a_pasted_list_is_shown_and_then_kept(
    client: TestClient, session: Session, separator: str, headings: list[list[str]]
) -> None:
    shown = show(client, written([*headings, *FUEL], separator))
    assert shown.status_code == 200
    assert "5 rows: 5 new, 0 changed, 0 as they are, 0 refused. Nothing is kept yet." in words_of(shown.text)
    assert functions(session) == []
    assert session.exec(select(Panel)).all() == []
    kept = keep(client, shown)
    assert kept.status_code == 303
    assert kept.headers["location"].startswith("/panels/P07?notice=The+list+is+kept%3A+5+new")
    found = functions(session)
    assert [[f.code, f.name, f.kind] for f in found] == [
        ["F083", "Fuel left", "needle"],
        ["F084", "Fuel right", "needle"],
        ["F086", "Crossfeed", "selector"],
        ["F087", "Boost pump left", "switch"],
        ["F089", "LEFT LOW", "light"],
    ]
    assert [(f.low, f.high, f.unit, f.positions, f.colour) for f in found] == [
        (0, 700, "kg", None, ""),
        (0, 700, "kg", None, ""),
        (None, None, "", 4, ""),
        (None, None, "", 2, ""),
        (None, None, "", None, "amber"),
    ]
    assert [f.range_text for f in found] == [row[3] for row in FUEL]
    assert list(chosen(session).values()) == ["gs4", "gs4", "rot", "tg", "led"]


def workbook() -> bytes:
    book = openpyxl.Workbook()
    assert book.active is not None
    for row in [HEADINGS, *FUEL]:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("fuel.csv", written([HEADINGS, *FUEL], ";").encode("utf-8-sig")),
        ("fuel.txt", written(FUEL).encode()),
        ("fuel.xlsx", workbook()),
    ],
)
def test_a_file_is_shown_and_then_kept_from_what_was_shown(
    client: TestClient, session: Session, name: str, data: bytes
) -> None:
    shown = client.post("/bring-in", data={"list": "", "panel": "P07"}, files={"file": (name, data)})
    assert "5 rows: 5 new" in words_of(shown.text)
    assert functions(session) == []
    keep(client, shown)
    assert [f.code for f in functions(session)] == ["F083", "F084", "F086", "F087", "F089"]
    assert functions(session)[0].high == 700


def test_the_preview_is_a_whole_sheet(client: TestClient) -> None:
    assert read_sheet(show(client, written([HEADINGS, *FUEL])).text).troubles == []


def test_a_panel_not_there_yet_is_named_before_it_is_made(client: TestClient, session: Session) -> None:
    shown = show(client, written([["Panel", "Function", "Kind"], ["Fuel", "Oil lamp", "light"]]))
    assert "New panel: Fuel." in words_of(shown.text)
    keep(client, shown)
    assert [(p.code, p.name) for p in session.exec(select(Panel)).all()] == [("P01", "Fuel")]


def test_each_column_says_how_it_was_taken_and_a_changed_one_is_kept_so(
    client: TestClient, session: Session
) -> None:
    shown = show(client, written([HEADINGS, *FUEL]))
    assert shown.text.count("its heading says so") >= 6
    again = look_again(client, shown, **{"column-3": "note"})
    assert again.status_code == 200
    assert functions(session) == []
    keep(client, again)
    first = functions(session)[0]
    assert (first.note, first.range_text, first.high) == ("0-700 kg", "", None)


def test_a_column_changed_just_before_keeping_is_shown_before_anything_is_kept(
    client: TestClient, session: Session
) -> None:
    shown = show(client, written([HEADINGS, *FUEL]))
    again = keep(client, shown, **{"column-3": "note"})
    assert again.status_code == 200
    assert "The columns were changed." in words_of(again.text, "<body", "</body>")
    assert functions(session) == []
    assert keep(client, again).status_code == 303
    assert functions(session)[0].note == "0-700 kg"


def test_one_field_chosen_for_two_columns_is_refused_at_the_one_changed_and_the_rows_stay_in_sight(
    client: TestClient, session: Session
) -> None:
    shown = show(client, written([HEADINGS, *FUEL]))
    again = look_again(client, shown, **{"column-4": "wiring"})
    assert again.status_code == 422
    assert again.text.count('class="error" id="e-column-') == 1
    assert "“wiring” is chosen for two columns." in words_of(again.text, 'id="e-column-4"', "</span>")
    assert fields_of(again.text, "/bring-in/keep")["column-4"] == "wiring"
    assert "Fuel left" in again.text
    assert keep(client, again).status_code == 422
    assert functions(session) == []


def test_a_first_row_taken_for_headings_wrongly_can_be_a_function(
    client: TestClient, session: Session
) -> None:
    shown = show(client, written([["Range", "Label"], ["Oil", "light"], ["Fuel", "light"]]))
    assert "2 rows: 0 new" in words_of(shown.text)
    again = look_again(client, shown, headings="no")
    assert "3 rows: 3 new" in words_of(again.text)
    keep(client, again)
    assert [(f.name, f.kind) for f in functions(session)] == [
        ("Range", "Label"),
        ("Oil", "light"),
        ("Fuel", "light"),
    ]


def test_a_first_row_taken_for_a_function_wrongly_can_be_headings(
    client: TestClient, session: Session
) -> None:
    shown = show(client, written([["What", "Which"], ["Oil", "light"], ["Fuel", "light"]]))
    assert "3 rows: 3 new" in words_of(shown.text)
    again = look_again(client, shown, headings="yes")
    assert "2 rows:" in words_of(again.text)
    last = look_again(client, again, **{"column-1": "kind"})
    keep(client, last)
    assert [(f.name, f.kind) for f in functions(session)] == [("Oil", "light"), ("Fuel", "light")]


def test_refused_rows_stand_with_their_reasons_and_the_others_are_kept(
    client: TestClient, session: Session
) -> None:
    rows = [
        HEADINGS,
        *FUEL,
        ["F090", "", "light", "", "", ""],
        ["F 91/2", "Fuel total", "display", "", "", ""],
    ]
    rows += [["F083", "Fuel centre", "gauge", "", "", ""], ["", "No kind", "", "", "", ""]]
    shown = show(client, written(rows))
    said = words_of(shown.text, "<table", "</table>")
    for reason in (
        "it has no name",
        "the id 'F91/2' may hold letters, figures, - _ and . only, 24 at most",
        "the same id as line 2",
        "the kind is missing (needle, light, switch, …)",
    ):
        assert f"refused {reason}" in said
    assert "Keep 5 rows" in shown.text
    location = keep(client, shown).headers["location"]
    assert "4+refused+and+left+out" in location
    assert len(functions(session)) == 5


def test_a_list_of_refused_rows_alone_offers_nothing_to_keep(client: TestClient, session: Session) -> None:
    shown = show(client, written([["Function", "Kind"], ["Oil lamp", ""]]))
    assert "There is nothing to keep: every row is refused." in words_of(shown.text)
    assert keep(client, shown).status_code == 200
    assert session.exec(select(Panel)).all() == []


def test_a_corrected_list_pasted_again_changes_its_rows_and_doubles_none(
    client: TestClient, session: Session
) -> None:
    keep(client, show(client, written([HEADINGS, *FUEL])))
    corrected = [row.copy() for row in FUEL]
    corrected[0][3] = "0-900 kg"
    shown = show(client, written([HEADINGS, *corrected]))
    assert "5 rows: 0 new, 1 changed, 4 as they are, 0 refused." in words_of(shown.text)
    assert "range: 0-700 kg → 0-900 kg" in words_of(shown.text)
    assert "high: 700 → 900" in words_of(shown.text)
    keep(client, shown)
    assert len(functions(session)) == 5
    assert functions(session)[0].high == 900


def test_the_same_list_again_says_that_all_rows_are_as_they_are(client: TestClient, session: Session) -> None:
    keep(client, show(client, written([HEADINGS, *FUEL])))
    shown = show(client, written([HEADINGS, *FUEL]))
    assert "There is nothing to keep: all rows are as they are." in words_of(shown.text)


@pytest.mark.parametrize("name", ["LEFT low", "left  LOW ", "LeftLow"])
def test_without_ids_a_row_is_found_by_panel_and_name_case_and_spaces_ignored(
    client: TestClient, session: Session, name: str
) -> None:
    keep(client, show(client, written([HEADINGS, *FUEL])))
    rows = [["Panel", "Function", "Kind", "Range"], ["p07", name, "light", "red"]]
    keep(client, show(client, written(rows)))
    assert [(f.code, f.colour) for f in functions(session) if f.kind == "light"] == [("F089", "red")]
    assert len(functions(session)) == 5


def test_a_function_the_new_list_leaves_out_stays_and_is_named(client: TestClient, session: Session) -> None:
    keep(client, show(client, written([HEADINGS, *FUEL])))
    shown = show(client, written([HEADINGS, *FUEL[:3], ["F100", "Fuel total", "display", "", "", ""]]))
    assert "Not in this list, and left as they are: F087 Boost pump left, F089 LEFT LOW." in words_of(
        shown.text
    )
    keep(client, shown)
    assert {"F087", "F089", "F100"} <= {f.code for f in functions(session)}


def test_a_second_list_gives_ids_to_functions_brought_in_without_any(
    client: TestClient, session: Session
) -> None:
    keep(client, show(client, written([HEADINGS[1:], *(row[1:] for row in FUEL)])))
    assert [f.code for f in functions(session)] == ["F001", "F002", "F003", "F004", "F005"]
    rows = {f.name: f.id for f in functions(session)}
    keep(client, show(client, written([HEADINGS, *FUEL])))
    assert [(f.code, f.id) for f in functions(session)] == [(row[0], rows[row[1]]) for row in FUEL]


def test_ids_of_the_whole_cockpit_may_be_those_the_program_had_given_meanwhile(
    client: TestClient, session: Session
) -> None:
    """The fuel panel came first, without ids, and was given F001 on; the whole list has F001 on another panel."""
    keep(client, show(client, written([HEADINGS[1:], *(row[1:] for row in FUEL)])))
    rows = {f.name: f.id for f in functions(session)}
    whole = [
        ["Panel", *HEADINGS],
        ["P01", "F001", "Airspeed", "gauge", "0-180 kt", "air.speed_kt", "gs4"],
        ["P01", "F002", "Altimeter", "gauge", "endless", "air.alt_ft", "gsd"],
        *(["P07", *row] for row in FUEL),
    ]
    shown = show(client, written(whole))
    assert "7 rows: 2 new, 5 changed, 0 as they are, 0 refused." in words_of(shown.text)
    assert keep(client, shown).status_code == 303
    found = {f.code: f for f in functions(session)}
    assert {code: f.name for code, f in found.items()} == {
        "F001": "Airspeed",
        "F002": "Altimeter",
        **{row[0]: row[1] for row in FUEL},
    }
    assert {row[1]: found[row[0]].id for row in FUEL} == rows


def test_numbers_begun_anew_on_each_panel_take_no_function_from_another(
    client: TestClient, session: Session
) -> None:
    first = [["No", "Function", "Kind"], ["1", "Airspeed", "gauge"], ["2", "Altimeter", "gauge"]]
    keep(client, show(client, written(first), panel="P01"))
    second = [["No", "Function", "Kind"], ["1", "Fuel left", "gauge"], ["2", "Fuel right", "gauge"]]
    shown = show(client, written(second))
    assert "2 refused" in words_of(shown.text)
    assert "the id 1 is that of 'Airspeed' on P01: another name on another panel" in words_of(shown.text)
    keep(client, look_again(client, shown, **{"column-0": ""}))
    assert [f.name for f in functions(session)] == ["Airspeed", "Altimeter", "Fuel left", "Fuel right"]


def test_an_unknown_wiring_word_is_kept_as_text_and_chooses_nothing(
    client: TestClient, session: Session
) -> None:
    shown = show(client, written([HEADINGS, [*FUEL[0][:5], "magic motor"]]))
    assert "'magic motor' is no component of the list: kept as text" in words_of(shown.text)
    keep(client, shown)
    assert functions(session)[0].wiring_text == "magic motor"
    assert chosen(session) == {}
    sheet = words_of(client.get("/panels/P07").text)
    assert "not chosen magic motor" in sheet


def test_what_was_read_from_a_range_is_corrected_in_the_preview_and_kept_so(
    client: TestClient, session: Session
) -> None:
    shown = show(client, written([HEADINGS, *FUEL]))
    keep(
        client,
        shown,
        **{"low-2": "20", "high-2": "650,5", "unit-2": "pounds", "is_endless-3": "yes", "positions-4": "3"},
    )
    left, right, crossfeed = functions(session)[:3]
    assert (left.low, left.high, left.unit) == (20, 650.5, "lb")
    assert (right.low, right.high, right.is_endless) == (0, 700, True)
    assert crossfeed.positions == 3


def test_a_correction_outlives_another_look_at_the_columns(client: TestClient, session: Session) -> None:
    shown = show(client, written([HEADINGS, *FUEL]))
    again = look_again(client, shown, **{"low-2": "20", "column-4": ""})
    assert fields_of(again.text, "/bring-in/keep")["low-2"] == "20"
    keep(client, again)
    assert (functions(session)[0].low, functions(session)[0].signal) == (20, "")


def test_a_correction_can_be_taken_back(client: TestClient, session: Session) -> None:
    shown = show(client, written([HEADINGS, *FUEL]))
    again = look_again(client, shown, **{"low-2": "20"})
    keep(client, again, **{"low-2": "0"})
    assert functions(session)[0].low == 0


def test_a_correction_outlives_a_second_paste_of_the_same_list(client: TestClient, session: Session) -> None:
    keep(client, show(client, written([HEADINGS, *FUEL])), **{"low-2": "20"})
    shown = show(client, written([HEADINGS, *FUEL]))
    assert "5 as they are" in words_of(shown.text)
    assert fields_of(shown.text, "/bring-in/keep")["low-2"] == "20"


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("positions-4", "0", "Positions is a whole number from 1 to 100; 0 is not."),
        ("positions-4", "-3", "below zero"),
        ("positions-4", "2.5", "whole numbers"),
        ("positions-4", "4 mA", "a current"),
        ("positions-4", "9999", "Positions is a whole number from 1 to 100"),
        ("low-2", "nan", "Low is a number without its unit; 'nan' is not."),
        ("low-2", "inf", "Low is a number"),
        ("high-2", "700 kg", "High is a number without its unit; '700 kg' is not."),
        ("high-2", "1e400", "High is a number"),
        ("high-2", "9" * 400, "High is a number"),
        ("unit-2", "k" * 25, "Unit has 25 characters; at most 24 are kept."),
    ],
)
def test_a_correction_that_cannot_be_is_refused_at_its_field_and_kept_as_typed(
    client: TestClient, session: Session, field: str, value: str, message: str
) -> None:
    shown = show(client, written([HEADINGS, *FUEL]))
    again = keep(client, shown, **{field: value, "low-3": "5"})
    assert again.status_code == 422
    assert message in message_at(again.text, field)
    fields = fields_of(again.text, "/bring-in/keep")
    assert (fields[field], fields["low-3"]) == (value, "5")
    assert functions(session) == []
    read = fields_of(shown.text, "/bring-in/keep")[field]
    assert keep(client, again, **{field: read}).status_code == 303
    assert functions(session)[1].low == 5


def test_a_correction_that_turns_a_range_round_is_shown_before_anything_is_kept(
    client: TestClient, session: Session
) -> None:
    again = keep(client, show(client, written([HEADINGS, *FUEL])), **{"low-2": "900"})
    assert again.status_code == 409
    assert "the low end of its range, 900, is not below the high end, 700" in words_of(again.text)
    assert functions(session) == []
    last = keep(client, again, **{"low-2": "90"})
    assert last.status_code == 409  # the row counts again: that too is shown first
    keep(client, last)
    assert functions(session)[0].low == 90


def test_fields_made_up_by_hand_keep_nothing(client: TestClient, session: Session) -> None:
    shown = show(client, written([HEADINGS, *FUEL]))
    assert keep(client, shown, **{"column-99": "note"}).status_code == 422
    assert keep(client, shown, **{"column-3": "colour of the sky"}).status_code == 422
    assert keep(client, shown, **{"column-²": "name"}).status_code == 200
    assert functions(session) == []
    assert keep(client, shown, **{"low-²": "4", "low-99": "4"}).status_code == 303
    assert len(functions(session)) == 5


def test_positions_of_none_in_a_list_are_left_out_with_a_remark(client: TestClient, session: Session) -> None:
    rows = [["Function", "Kind", "Wiring", "Positions"], ["Mode", "selector", "rot", "0"]]
    shown = show(client, written(rows))
    assert "0 positions are not from 1 to 100: left out" in words_of(shown.text)
    keep(client, shown)
    assert functions(session)[0].positions is None


NAMES = [
    "<script>alert(1)</script>",
    '"><b>x',
    "مقياس السرعة",
    "🛩️ 👩‍✈️ lamp",
    "a &amp; b &lt;i&gt;",
    "x" * 300,
]


@pytest.mark.parametrize("name", NAMES)
def test_any_name_is_text_in_the_preview_and_on_every_sheet(
    client: TestClient, session: Session, name: str
) -> None:
    shown = show(client, written([["Function", "Kind", "Note"], [name, "light", name]]))
    assert "1 new" in words_of(shown.text)
    assert read_sheet(shown.text).troubles == []
    kept = keep(client, shown)
    assert functions(session)[0].name == name
    for sheet in (
        kept.headers["location"],
        "/panels",
        "/functions/F001",
        "/functions/F001/edit",
        "/findings",
    ):
        page = client.get(sheet).text
        assert read_sheet(page).troubles == []
        assert "<script>alert" not in page
        assert "<b>x" not in page
    assert name in words_of(client.get("/functions/F001").text)


def test_a_name_of_301_characters_is_refused_with_both_counts(client: TestClient) -> None:
    shown = show(client, written([["Function", "Kind"], ["x" * 301, "light"]]))
    assert "refused its name has 301 characters; at most 300 are kept" in words_of(shown.text)


def test_a_panel_of_301_characters_is_refused_at_its_field(client: TestClient) -> None:
    answer = show(client, written(FUEL), panel="x" * 301)
    assert answer.status_code == 422
    assert "at most 300" in message_at(answer.text, "panel")
    assert fields_of(answer.text, "/bring-in")["list"].splitlines() == written(FUEL).splitlines()


def test_a_list_of_uneven_rows_with_commas_in_them_comes_back_as_it_was_shown(
    client: TestClient, session: Session
) -> None:
    rows = [["Function", "Kind"], ["Oil, hot", "light"], ["Fuel; cold", "light"]]
    rows += [[f"Lamp {n}, left"] for n in range(8)]
    shown = show(client, written(rows, ","))
    before = words_of(shown.text, "<h2>Rows</h2>", "</table>")
    assert words_of(look_again(client, shown).text, "<h2>Rows</h2>", "</table>") == before
    keep(client, shown)
    assert [f.name for f in functions(session)] == ["Oil, hot", "Fuel; cold"]


def test_a_decimal_comma_is_read(client: TestClient, session: Session) -> None:
    text = "Function;Kind;Range\nOil pressure;gauge;0-6,5 bar\nTrim;gauge;-1,5 to 2,25 deg\n"
    keep(client, show(client, text))
    assert [(f.low, f.high, f.unit) for f in functions(session)] == [(0, 6.5, "bar"), (-1.5, 2.25, "deg")]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "Paste a list"),
        (" \n\t\n", "Paste a list"),
        ('Function,Kind\n"Oil lamp,light\n', "line 2: a quoted cell has no end"),
        (",".join("a" * 61), "61 columns; at most 60"),
        ("a\n" * 5_002, "more than 5,000 rows are not read"),
    ],
)
def test_a_list_that_cannot_be_read_says_where_and_the_text_is_kept(
    client: TestClient, text: str, message: str
) -> None:
    answer = show(client, text)
    assert answer.status_code == 422
    assert message in message_at(answer.text, "list")
    fields = fields_of(answer.text, "/bring-in")
    assert fields["list"].split() == text.split()
    assert fields["panel"] == "P07"


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "choose a file that holds one"),
        (b"\x7fELF\x02\x01\x01", "fuel.bin: is a program, not a list"),
        (b"PK\x03\x04 broken", "fuel.bin: archive: is damaged or locked"),
        (b"a\x00b", "zero bytes"),
    ],
)
def test_a_file_that_is_no_list_is_refused_at_its_field(
    client: TestClient, data: bytes, message: str
) -> None:
    answer = client.post("/bring-in", data={"list": "", "panel": "P07"}, files={"file": ("fuel.bin", data)})
    assert answer.status_code == 422
    assert message in message_at(answer.text, "file")
    assert read_sheet(answer.text).troubles == []


def test_a_list_larger_than_its_limit_is_refused_before_it_is_read(client: TestClient) -> None:
    text = "Oil lamp,light\n" * 360_000  # 5.4 MB against the 5 MB stated on the form
    answer = client.post("/bring-in", files={"file": ("fuel.csv", text.encode())})
    assert answer.status_code == 413
    assert "larger than the 5" in words_of(answer.text)


def test_a_list_that_changed_under_the_preview_is_shown_anew(client: TestClient, session: Session) -> None:
    """Another tab kept the same list first: the second sees what stands, and nothing is doubled."""
    first, second = show(client, written([HEADINGS, *FUEL])), show(client, written([HEADINGS, *FUEL]))
    keep(client, first)
    late = keep(client, second)
    assert late.status_code == 409
    assert "The rows come out otherwise than they were shown" in words_of(late.text, "<body", "</body>")
    assert len(functions(session)) == 5


def test_a_list_of_two_thousand_rows_is_kept_without_a_query_for_each(
    client: TestClient, session: Session
) -> None:
    rows = [["Panel", *HEADINGS[1:]]]
    rows += [
        [f"P{i // 20 + 1:02d}", f"Gauge {i}", "gauge", f"0-{i + 1} kt", f"sim.v{i}", "gs4"]
        for i in range(2_000)
    ]
    shown = show(client, written(rows))
    assert "2,000 rows: 2,000 new" in words_of(shown.text)
    assert 'name="low-2"' not in shown.text
    selects: list[str] = []
    app = client.app
    assert isinstance(app, FastAPI)

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        if statement.lstrip().upper().startswith("SELECT"):
            selects.append(statement)

    event.listen(app.state.engine, "before_cursor_execute", note)
    kept = keep(client, shown)
    event.remove(app.state.engine, "before_cursor_execute", note)
    assert kept.status_code == 303
    assert kept.headers["location"].startswith("/panels?")
    assert len(selects) < 150  # 100 new panels are given their ids one by one; the rows are read at once
    assert len(functions(session)) == 2_000
    assert len(chosen(session)) == 2_000
