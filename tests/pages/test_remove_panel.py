"""Taking a panel away."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.panel_edit import add_panel, add_panel_load
from app.tables import Component, MadePart, Panel, PanelLoad
from tests.pages.cockpit_rows import bring_in
from tests.pages.sheet_text import words_of


@pytest.fixture(autouse=True)
def panel(session: Session) -> None:
    panel = add_panel(session, "P07", "Fuel")
    add_panel_load(session, panel, session.exec(select(Component)).first() or Component(code="", name=""), 2)
    session.commit()


def codes(session: Session) -> list[str]:
    session.expire_all()
    return [panel.code for panel in session.exec(select(Panel)).all()]


def test_the_question_comes_first_and_changes_nothing(client: TestClient, session: Session) -> None:
    assert "/panels/P07/delete" in client.get("/panels/P07/edit").text
    assert "this cannot be undone" in words_of(client.get("/panels/P07/delete").text)
    assert codes(session) == ["P07"]


def test_an_empty_panel_goes_with_its_loads(client: TestClient, session: Session) -> None:
    answer = client.post("/panels/P07/delete")
    assert "P07 is taken away." in words_of(answer.text, "<body", "</body>")
    assert codes(session) == []
    assert session.exec(select(PanelLoad)).all() == []


def test_a_panel_with_functions_stays_and_says_how_many(client: TestClient, session: Session) -> None:
    bring_in(session, "Oil lamp\tlight\tled", "Fuel lamp\tlight\tled")
    assert "P01 holds 2 functions." in words_of(client.get("/panels/P01/delete").text)
    answer = client.post("/panels/P01/delete")
    assert answer.status_code == 409
    assert "P01 holds 2 functions." in words_of(answer.text)
    assert "P01" in codes(session)


def test_a_panel_with_a_made_part_stays(client: TestClient, session: Session) -> None:
    panel = session.exec(select(Panel)).one()
    session.add(MadePart(code="MP01", name="Face", panel_id=panel.id))
    session.commit()
    answer = client.post("/panels/P07/delete")
    assert answer.status_code == 409
    assert "P07 holds 1 made part." in words_of(answer.text)


def test_a_second_press_says_that_it_is_gone(client: TestClient) -> None:
    client.post("/panels/P07/delete")
    assert client.post("/panels/P07/delete").status_code == 404
