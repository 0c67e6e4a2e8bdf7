"""Taking a function away."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, SQLModel, select

from app.planning.panel_edit import OF_A_FUNCTION
from app.planning.scale import set_scale
from app.tables import Candidate, Function, PinUse, ScalePoint
from tests.pages.cockpit_rows import board_with
from tests.pages.sheet_text import words_of


@pytest.fixture(autouse=True)
def rows(session: Session) -> None:
    board_with(session, "Crossfeed\tselector\trot\t4", "Oil lamp\tlight\tled")
    set_scale(session, session.exec(select(Function)).all()[0], [(0, 0), (10, 90)])
    session.commit()


def codes(session: Session) -> list[str]:
    session.expire_all()
    return [function.code for function in session.exec(select(Function)).all()]


def test_the_question_says_what_goes_with_it_and_changes_nothing(
    client: TestClient, session: Session
) -> None:
    assert "/functions/F001/delete" in client.get("/functions/F001/edit").text
    words = words_of(client.get("/functions/F001/delete").text)
    assert "With it go 1 candidate and 2 points of its scale; its pins on BD01 become free." in words
    assert codes(session) == ["F001", "F002"]


def test_it_goes_with_its_candidates_its_scale_and_its_pins(client: TestClient, session: Session) -> None:
    answer = client.post("/functions/F001/delete")
    assert "F001 is gone." in words_of(answer.text, "<body", "</body>")
    assert codes(session) == ["F002"]
    assert session.exec(select(Candidate).where(Candidate.function_id == 1)).all() == []
    assert session.exec(select(ScalePoint)).all() == []
    assert [use.function_id for use in session.exec(select(PinUse)).all() if use.function_id] == [2]


def test_nothing_that_names_a_function_keeps_it_from_going(session: Session) -> None:
    """Every table that refers to functions is emptied of it first, or the database would refuse."""
    referring = {
        table.name
        for table in SQLModel.metadata.tables.values()
        for key in table.foreign_keys
        if key.column.table.name == "functions"
    }
    emptied = {table.__tablename__ for table in OF_A_FUNCTION}
    assert emptied == referring


def test_a_second_press_says_that_it_is_gone(client: TestClient) -> None:
    client.post("/functions/F001/delete")
    assert client.post("/functions/F001/delete").status_code == 404
