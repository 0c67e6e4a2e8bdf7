"""Editing a board, two tabs at once, and taking an empty one away."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.tables import Board, BoardModule, PinUse
from tests.pages.cockpit_rows import board_with

VALID = {
    "version": "1",
    "code": "BD01",
    "name": "Fuel",
    "module": "T8S",
    "boot_loader_bytes": "2 KB",
    "stack_reserve_bytes": "400",
    "note": "on the bench",
}


@pytest.fixture(autouse=True)
def board(session: Session) -> None:
    board_with(session, "Oil lamp\tlight\tled")


def kept(session: Session) -> Board:
    session.expire_all()
    return session.exec(select(Board)).one()


def test_what_was_changed_is_kept(client: TestClient, session: Session) -> None:
    answer = client.post("/boards/BD01/edit", data=VALID)
    assert "BD01 is kept." in answer.text
    board = kept(session)
    assert (board.name, board.boot_loader_bytes, board.stack_reserve_bytes) == ("Fuel", 2048, 400)
    assert (board.note, board.version) == ("on the bench", 2)


def test_a_new_id_leads_to_its_new_address(client: TestClient) -> None:
    answer = client.post("/boards/BD01/edit", data={**VALID, "code": "B1"}, follow_redirects=False)
    assert answer.headers["location"].startswith("/boards/B1?")
    assert client.get("/boards/BD01").status_code == 404


def test_another_module_gives_the_terminals_pins_of_its_own(client: TestClient, session: Session) -> None:
    client.post("/boards/BD01/edit", data={**VALID, "module": "T32", "boot_loader_bytes": ""})
    module = session.exec(select(BoardModule).where(BoardModule.code == "T32")).one()
    assert kept(session).module_id == module.id
    labels = session.exec(select(PinUse.pin_label)).all()
    assert len(labels) == 1
    assert labels[0].startswith("GP")


def test_the_second_of_two_tabs_sees_both_versions_and_decides(client: TestClient, session: Session) -> None:
    client.post("/boards/BD01/edit", data=VALID)
    answer = client.post("/boards/BD01/edit", data={**VALID, "name": "Water"})
    assert answer.status_code == 409
    assert "Water" in answer.text
    assert "Fuel" in answer.text
    assert 'name="version" value="2"' in answer.text
    assert kept(session).name == "Fuel"
    client.post("/boards/BD01/edit", data={**VALID, "name": "Water", "version": "2"})
    assert kept(session).name == "Water"


def test_a_boot_loader_that_leaves_no_room_is_refused_at_its_field(
    client: TestClient, session: Session
) -> None:
    answer = client.post("/boards/BD01/edit", data={**VALID, "boot_loader_bytes": "40000"})
    assert answer.status_code == 422
    assert 'id="e-boot_loader_bytes"' in answer.text
    assert kept(session).version == 1


def test_a_board_that_holds_functions_is_not_taken_away(client: TestClient, session: Session) -> None:
    assert "holds 1 function" in client.get("/boards/BD01/delete").text
    assert client.post("/boards/BD01/delete").status_code == 409
    assert kept(session)


def test_an_empty_board_is_taken_away_after_a_question(client: TestClient, session: Session) -> None:
    client.post("/boards/BD01/functions/off", data={"function": "F001"})
    assert "cannot be undone" in client.get("/boards/BD01/delete").text
    answer = client.post("/boards/BD01/delete")
    assert "BD01 is taken away." in answer.text
    session.expire_all()
    assert session.exec(select(Board)).all() == []
