"""Bringing a function list in, in the browser's own steps: paste, look, change, keep, paste again."""

import html
import io
import re

import openpyxl
import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from sqlmodel import Session, select

from app.pages.guard import largest_body
from app.tables import Function, Panel
from tests.pages.sheet_text import message_at, words_of

LIST = (
    "Function\tKind\tRange\tSignal\tWiring\n"
    "Airspeed\tgauge\t0-180 kt\tair.speed_kt\tgs4\n"
    "Oil lamp\tlight\tamber\tengine.oil\tled\n"
)
VALID = {"list": LIST, "panel": "P01"}


def fields_of(page: str) -> dict[str, str]:
    """What a browser would send of the page's form: its inputs, and the chosen option of each select."""
    form = page[page.index('action="/bring-in/keep"') : page.index("</form>")]
    fields = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag, re.DOTALL)
        if name:
            fields[name[1]] = html.unescape(value[1]) if value else ""
    for name, options in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        found = re.search(r"<option(?: value=\"([^\"]*)\")? selected>([^<]*)", options)
        assert found, name
        fields[name] = found[2] if found[1] is None else found[1]
    return fields


def look(client: TestClient, **changed: str) -> Response:
    return client.post("/bring-in", data={**VALID, **changed})


def keep(client: TestClient, shown: Response, **changed: str) -> Response:
    return client.post("/bring-in/keep", data={**fields_of(shown.text), **changed}, follow_redirects=False)


def kept(session: Session) -> dict[str, Function]:
    session.expire_all()
    return {f.name: f for f in session.exec(select(Function)).all()}


def test_the_form_states_its_limit_and_takes_the_panel_of_its_address(client: TestClient) -> None:
    page = client.get("/bring-in?panel=P07").text
    assert "At most 5 MB." in page
    assert 'value="P07"' in page
    assert largest_body("/bring-in") == largest_body("/bring-in/keep") == 5 * 1024 * 1024


def test_a_list_is_shown_row_by_row_and_nothing_is_kept(client: TestClient, session: Session) -> None:
    page = look(client).text
    said = words_of(page)
    assert "2 rows: 2 new, 0 changed, 0 as they are, 0 refused. Nothing is kept yet." in said
    assert "New panel: P01." in said
    assert "its heading says so" in said
    fields = fields_of(page)
    assert (fields["low-2"], fields["high-2"], fields["unit-2"]) == ("0", "180", "kt")
    assert kept(session) == {}
    assert session.exec(select(Panel)).all() == []


def test_a_list_that_was_looked_at_is_kept_and_leads_to_its_panel(
    client: TestClient, session: Session
) -> None:
    answer = keep(client, look(client))
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/panels/P01?")
    page = words_of(client.get(answer.headers["location"]).text, "<header", "</header>")
    assert "The list is kept: 2 new, 0 changed, 0 as they were." in page
    assert list(kept(session)) == ["Airspeed", "Oil lamp"]


def test_a_corrected_list_changes_rows_instead_of_doubling_them(client: TestClient, session: Session) -> None:
    keep(client, look(client))
    shown = look(client, list=LIST.replace("0-180 kt", "0-200 kt").replace("Oil lamp", "oil LAMP"))
    said = words_of(shown.text)
    assert "0 new, 2 changed" in said
    assert "range: 0-180 kt → 0-200 kt" in said
    keep(client, shown)
    assert {name: f.high for name, f in kept(session).items()} == {"Airspeed": 200, "oil LAMP": None}


def test_functions_that_the_list_leaves_out_are_named_and_stay(client: TestClient, session: Session) -> None:
    keep(client, look(client))
    shown = look(client, list=LIST.replace("180", "200").partition("Oil lamp")[0])
    assert "Not in this list, and left as they are: F002 Oil lamp." in words_of(shown.text)
    keep(client, shown)
    assert list(kept(session)) == ["Airspeed", "Oil lamp"]


def test_a_refused_row_says_why_and_the_rest_is_kept(client: TestClient, session: Session) -> None:
    shown = look(client, list=LIST + "\tlight\tred\t\tled\n")
    said = words_of(shown.text)
    assert "Keep 2 rows" in said
    assert "4 refused it has no name" in said  # on line 4
    answer = keep(client, shown)
    assert "1 refused and left out" in words_of(
        client.get(answer.headers["location"]).text, "<header", "</header>"
    )
    assert len(kept(session)) == 2


def test_what_was_read_from_a_range_is_corrected_before_it_is_kept(
    client: TestClient, session: Session
) -> None:
    keep(client, look(client), **{"low-2": "20", "is_endless-3": "yes"})
    functions = kept(session)
    assert (functions["Airspeed"].low, functions["Airspeed"].high) == (20, 180)
    assert functions["Oil lamp"].is_endless


def test_a_correction_that_is_no_number_is_said_at_its_field_and_the_others_are_not_lost(
    client: TestClient, session: Session
) -> None:
    answer = keep(client, look(client), **{"low-2": "20", "high-2": "fast"})
    assert answer.status_code == 422
    assert message_at(answer.text, "high-2") == "High is a number without its unit; 'fast' is not."
    fields = fields_of(answer.text)
    assert (fields["low-2"], fields["high-2"]) == ("20", "fast")
    assert kept(session) == {}
    keep(client, answer, **{"high-2": "190"})
    assert (kept(session)["Airspeed"].low, kept(session)["Airspeed"].high) == (20, 190)


def test_a_correction_that_makes_a_row_refused_is_shown_before_anything_is_kept(
    client: TestClient, session: Session
) -> None:
    answer = keep(client, look(client), **{"low-2": "500"})
    assert answer.status_code == 409
    assert "the low end of its range, 500, is not below the high end, 180" in words_of(answer.text)
    assert kept(session) == {}
    again = keep(client, answer, **{"low-2": "50"})
    assert again.status_code == 409  # the row counts again: that too is shown first
    keep(client, again)
    assert kept(session)["Airspeed"].low == 50


def test_a_column_taken_otherwise_is_shown_before_anything_is_kept(
    client: TestClient, session: Session
) -> None:
    shown = look(client)
    answer = keep(client, shown, **{"column-3": "note"})
    assert answer.status_code == 200
    assert "The columns were changed." in answer.text
    assert kept(session) == {}
    assert "its heading says so" in words_of(answer.text)
    assert words_of(answer.text).count("chosen by you") == 1
    keep(client, answer)
    assert (kept(session)["Airspeed"].signal, kept(session)["Airspeed"].note) == ("", "air.speed_kt")


def test_look_again_shows_the_rows_under_the_columns_chosen(client: TestClient) -> None:
    fields = fields_of(look(client).text) | {"column-0": "", "column-3": "name"}
    said = words_of(client.post("/bring-in", data=fields).text)
    assert "air.speed_kt" in said
    assert "Nothing is kept yet." in said


def test_a_list_without_headings_is_kept_with_its_first_row(client: TestClient, session: Session) -> None:
    shown = look(client, list=LIST.partition("\n")[2])
    assert fields_of(shown.text)["headings"] == "no"
    keep(client, shown)
    assert list(kept(session)) == ["Airspeed", "Oil lamp"]


def test_headings_taken_for_a_function_are_said_to_be_headings(client: TestClient, session: Session) -> None:
    shown = look(client, list="What\tWhich\nOil lamp\tlight\nFuel lamp\tlight\n")
    assert "3 rows" in words_of(shown.text)
    fields = fields_of(shown.text) | {"headings": "yes"}
    again = client.post("/bring-in", data=fields)
    assert "2 rows" in words_of(again.text)
    keep(client, again, **{"column-1": "kind"})
    assert kept(session) == {}  # the column was changed: shown first


def test_what_changed_in_another_tab_since_the_look_is_shown_again(
    client: TestClient, session: Session
) -> None:
    first, second = look(client), look(client)
    keep(client, first)
    answer = keep(client, second)
    assert answer.status_code == 409
    assert "2 as they are" in words_of(answer.text)
    assert len(kept(session)) == 2


def test_nothing_pasted_is_said_at_the_field(client: TestClient) -> None:
    answer = look(client, list=" \n ")
    assert answer.status_code == 422
    assert message_at(answer.text, "list") == "Paste a list, or choose a file that holds one."


def test_a_list_that_cannot_be_read_is_said_at_the_field_and_its_text_is_kept(client: TestClient) -> None:
    text = 'Function,Kind\n"Oil lamp,light\n'
    answer = look(client, list=text)
    assert answer.status_code == 422
    assert "pasted list: line 2: a quoted cell has no end" in message_at(answer.text, "list")
    assert html.escape(text, quote=True).replace("&quot;", "&#34;").strip() in answer.text


def test_a_workbook_is_read_and_kept(client: TestClient, session: Session) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    for row in (("Panel", "Function", "Kind"), ("P01", "Oil lamp", "light")):
        book.active.append(row)
    data = io.BytesIO()
    book.save(data)
    shown = client.post(
        "/bring-in", data={"list": "", "panel": ""}, files={"file": ("list.xlsx", data.getvalue())}
    )
    assert "1 new" in words_of(shown.text)
    keep(client, shown)
    assert list(kept(session)) == ["Oil lamp"]


def test_a_file_that_is_no_list_is_said_at_the_file(client: TestClient) -> None:
    answer = client.post("/bring-in", data={"panel": "P01"}, files={"file": ("a.pdf", b"%PDF-1.7 ...")})
    assert answer.status_code == 422
    assert "a.pdf: is a PDF: copy the table from it and paste it" in message_at(answer.text, "file")


def test_a_list_larger_than_its_limit_is_refused(client: TestClient) -> None:
    answer = client.post("/bring-in", data={"list": "x" * (6 * 1024 * 1024)})
    assert answer.status_code == 413
    assert "Nothing was kept or changed." in words_of(answer.text)


@pytest.mark.parametrize("name", ["<b>Oil</b> & lamp", "مصباح الزيت", "Lamp 🛢️", "x" * 300])
def test_any_name_is_shown_as_text_and_kept_as_it_is(
    client: TestClient, session: Session, name: str
) -> None:
    shown = look(client, list=f"Function\tKind\n{name}\tlight\n")
    assert "<b>Oil" not in shown.text
    keep(client, shown)
    assert list(kept(session)) == [name]
    assert name in words_of(client.get("/panels/P01").text)


def test_more_rows_than_can_be_corrected_here_are_still_kept(client: TestClient, session: Session) -> None:
    rows = "".join(f"Lamp {number}\tlight\tred\n" for number in range(1, 202))
    shown = look(client, list=f"Function\tKind\tRange\n{rows}")
    assert "corrected on the function's own sheet" in html.unescape(shown.text)
    keep(client, shown)
    assert len(kept(session)) == 201


def test_field_names_made_up_by_hand_are_refused_in_words_or_ignored(client: TestClient) -> None:
    shown = look(client)
    made_up = {"column-²": "name", "low-²": "4", "column-99": "name"}
    answer = keep(client, shown, **made_up)
    assert answer.status_code == 422
    assert "column 100: does not exist" in answer.text
