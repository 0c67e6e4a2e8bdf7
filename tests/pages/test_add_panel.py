"""Adding a panel."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.tables import Panel
from tests.pages.form_reader import fields_of
from tests.pages.sheet_reader import read_sheet
from tests.pages.sheet_text import message_at, words_of

VALID = {
    "code": "P07",
    "name": "Fuel",
    "face_width_mm": "146",
    "face_height_mm": "5 3/4 in",
    "face_mark": "measured",
    "state": "wiring",
    "issue": "B",
    "note": "left of the seat",
}


def panels(session: Session) -> list[Panel]:
    session.expire_all()
    return list(session.exec(select(Panel)).all())


def test_a_panel_is_kept_with_its_face_in_millimetres(client: TestClient, session: Session) -> None:
    answer = client.post("/panels/new", data=VALID, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/panels/P07?")
    (panel,) = panels(session)
    # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959): 5.75 in = 146.05 mm.
    assert (panel.face_width_mm, panel.face_mark) == (146, "measured")
    assert panel.face_height_mm == pytest.approx(146.05)
    assert (panel.name, panel.state, panel.issue, panel.note) == ("Fuel", "wiring", "B", "left of the seat")
    page = client.get(answer.headers["location"]).text
    assert "146 × 146.1 mm measured" in words_of(page)
    assert "Fuel" in words_of(client.get("/panels").text)


def test_the_form_offers_the_next_id(client: TestClient) -> None:
    client.post("/panels/new", data=VALID)
    assert fields_of(client.get("/panels/new").text)["code"] == "P08"


def test_a_face_without_a_size_is_no_fault_and_the_sheet_asks_for_it(
    client: TestClient, session: Session
) -> None:
    client.post("/panels/new", data={**VALID, "face_width_mm": "", "face_height_mm": ""})
    assert panels(session)[0].face_width_mm is None
    page = client.get("/panels/P07").text
    assert "The face has no size yet" in words_of(page)
    assert read_sheet(page).troubles == []


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("code", "", "Id is needed."),
        ("code", "P 07", "Id may hold letters"),
        ("code", "P/07", "Id may hold letters"),
        ("code", "new", "Id cannot be 'new'"),
        ("code", "-P7", "begins and ends with a letter"),
        ("code", "P" * 25, "Id has 25 characters; at most 24 are kept."),
        ("name", "  ", "Name is needed."),
        ("name", "x" * 301, "Name has 301 characters; at most 300 are kept."),
        ("face_width_mm", "0", "Face width is more than nothing."),
        ("face_width_mm", "-5", "below zero"),
        ("face_width_mm", "250 mV", "250 mV is a voltage"),
        ("face_width_mm", "3 1/0 in", "divides by zero"),
        ("face_height_mm", "tall", "is not a number"),
        ("face_height_mm", "3 m", "Save again to keep it."),
        ("face_mark", "guessed", "Source mark is one of those offered"),
        ("issue", "A" * 25, "at most 24 are kept"),
        ("note", "x" * 20_001, "at most 20000 are kept"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_kept_as_typed(
    client: TestClient, session: Session, field: str, value: str, message: str
) -> None:
    answer = client.post("/panels/new", data={**VALID, field: value})
    assert answer.status_code == 422
    assert message in message_at(answer.text, field)
    if field != "face_mark":
        assert fields_of(answer.text) == {
            **fields_of(answer.text),
            **VALID,
            field: value,
        }
    assert read_sheet(answer.text).troubles == []
    assert panels(session) == []


def test_an_absurd_face_is_asked_about_once_and_then_kept(client: TestClient, session: Session) -> None:
    asked = client.post("/panels/new", data={**VALID, "face_height_mm": "3 m"})
    client.post("/panels/new", data=fields_of(asked.text))
    assert panels(session)[0].face_height_mm == 3_000


@pytest.mark.parametrize("code", ["P07", "p07"])
def test_an_id_of_another_panel_is_refused(client: TestClient, session: Session, code: str) -> None:
    client.post("/panels/new", data=VALID)
    answer = client.post("/panels/new", data={**VALID, "code": code})
    assert message_at(answer.text, "code") == f"Another panel has the id {code}."
    assert len(panels(session)) == 1


@pytest.mark.parametrize("code", ["Ö1", "пульт-1", "P.7_a"])
def test_any_id_that_is_taken_leads_to_its_sheet(client: TestClient, code: str) -> None:
    answer = client.post("/panels/new", data={**VALID, "code": code})
    assert answer.status_code == 200
    assert f"{code} Fuel" in words_of(answer.text)
    assert client.get(f"/panels/{code.lower() if code.isascii() else code}").status_code == 200


def test_a_panel_that_no_check_looks_at_is_not_called_fine(client: TestClient) -> None:
    client.post("/panels/new", data=VALID)
    side = words_of(client.get("/panels/P07").text, "<h2>What stops this panel</h2>", "</section>")
    assert side.startswith("What stops this panel Cannot tell: no check looks at this panel yet")


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", '"><i>x', "لوحة الوقود", "🛩️ fuel", "x" * 300])
def test_any_name_is_shown_as_text(client: TestClient, name: str) -> None:
    client.post("/panels/new", data={**VALID, "name": name, "note": name, "state": name})
    for sheet in ("/", "/panels", "/panels/P07", "/panels/P07/edit", "/panels/P07/delete"):
        page = client.get(sheet).text
        assert read_sheet(page).troubles == []
        assert name in words_of(page) or name in fields_of(page)["name"]


def test_a_panel_that_is_not_there_says_so(client: TestClient) -> None:
    answer = client.get("/panels/P99")
    assert answer.status_code == 404
    assert "There is no panel P99 in this cockpit." in words_of(answer.text)


def test_an_empty_cockpit_says_what_goes_here_and_offers_the_one_action(client: TestClient) -> None:
    page = client.get("/panels").text
    assert "Panels go here" in words_of(page)
    assert {"/bring-in", "/panels/new"} <= set(read_sheet(page).links)
