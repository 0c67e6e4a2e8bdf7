"""Editing a panel, and two tabs that save one."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.planning.panel_edit import add_panel
from app.tables import Panel
from tests.pages.cockpit_rows import bring_in
from tests.pages.form_reader import fields_of
from tests.pages.sheet_text import message_at, words_of


@pytest.fixture(autouse=True)
def panel(session: Session) -> None:
    add_panel(session, "P07", "Fuel", face_width_mm=146, face_height_mm=105, face_mark="listed")
    add_panel(session, "P08", "Electrics")
    session.commit()


def kept(session: Session) -> Panel:
    session.expire_all()
    return session.exec(select(Panel).order_by(col(Panel.id))).all()[0]


def test_the_form_holds_what_is_kept(client: TestClient) -> None:
    fields = fields_of(client.get("/panels/P07/edit").text)
    assert fields == {
        "version": "1",
        "code": "P07",
        "name": "Fuel",
        "face_width_mm": "146",
        "face_height_mm": "105",
        "face_mark": "listed",
        "state": "",
        "issue": "",
        "note": "",
    }


def test_what_was_changed_is_kept_and_the_rest_stays(client: TestClient, session: Session) -> None:
    fields = fields_of(client.get("/panels/P07/edit").text)
    answer = client.post("/panels/P07/edit", data={**fields, "state": "bench test", "issue": "C"})
    panel = kept(session)
    assert (panel.state, panel.issue, panel.name, panel.face_width_mm) == ("bench test", "C", "Fuel", 146)
    assert panel.version == 2
    block = words_of(answer.text, '<dl class="title-block"', "</dl>")
    assert "State bench test" in block
    assert "Issue C" in block


def test_a_new_id_leads_to_its_new_address_and_keeps_the_functions(
    client: TestClient, session: Session
) -> None:
    bring_in(session, "Oil lamp\tlight\tled")
    fields = fields_of(client.get("/panels/P01/edit").text)
    answer = client.post("/panels/P01/edit", data={**fields, "code": "P10"}, follow_redirects=False)
    assert answer.headers["location"] == "/panels/P10"
    assert "Oil lamp" in client.get("/panels/P10").text
    assert client.get("/panels/P01").status_code == 404


def test_the_second_of_two_tabs_sees_both_versions_and_its_second_save_decides(
    client: TestClient, session: Session
) -> None:
    first = second = fields_of(client.get("/panels/P07/edit").text)
    client.post("/panels/P07/edit", data={**first, "name": "Fuel and oil", "note": "from the first tab"})
    answer = client.post("/panels/P07/edit", data={**second, "name": "Fuel system", "face_width_mm": "150"})
    assert answer.status_code == 409
    both = words_of(answer.text, '<section class="conflict"', "</section>")
    assert "Name differs Fuel system Fuel and oil" in both
    assert "Face width, mm differs 150 146" in both
    assert "Note differs – from the first tab" in both
    assert "Face height, mm 105 105" in both
    fields = fields_of(answer.text)
    assert (fields["name"], fields["face_width_mm"], fields["version"]) == ("Fuel system", "150", "2")
    assert (kept(session).name, kept(session).version) == ("Fuel and oil", 2)
    client.post("/panels/P07/edit", data=fields)
    assert (kept(session).name, kept(session).face_width_mm, kept(session).version) == ("Fuel system", 150, 3)


def test_a_form_without_a_version_overwrites_nothing(client: TestClient, session: Session) -> None:
    answer = client.post("/panels/P07/edit", data={"code": "P07", "name": "Other"})
    assert answer.status_code == 409
    assert kept(session).name == "Fuel"


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("code", "p08", "Another panel has the id p08."),
        ("name", "", "Name is needed."),
        ("face_height_mm", "12 V", "12 V is a voltage"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(
    client: TestClient, session: Session, field: str, value: str, message: str
) -> None:
    fields = fields_of(client.get("/panels/P07/edit").text)
    answer = client.post("/panels/P07/edit", data={**fields, field: value})
    assert answer.status_code == 422
    assert message in message_at(answer.text, field)
    assert fields_of(answer.text)[field] == value
    assert kept(session).version == 1


def test_its_own_id_in_another_case_is_free(client: TestClient, session: Session) -> None:
    fields = fields_of(client.get("/panels/P07/edit").text)
    client.post("/panels/P07/edit", data={**fields, "code": "p07"})
    assert kept(session).code == "p07"


def test_a_decimal_comma_and_inches_are_read(client: TestClient, session: Session) -> None:
    fields = fields_of(client.get("/panels/P07/edit").text)
    client.post("/panels/P07/edit", data={**fields, "face_width_mm": "146,5", "face_height_mm": "4 1/8 in"})
    # 1 in = 25.4 mm exactly: 4.125 in = 104.775 mm.
    assert kept(session).face_width_mm == 146.5
    assert kept(session).face_height_mm == pytest.approx(104.775)
