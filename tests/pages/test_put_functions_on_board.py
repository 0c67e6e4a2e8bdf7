"""Putting functions on a board, whole panels and single ones, and taking them off."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.board_edit import add_board
from app.tables import Board, Function
from tests.pages.cockpit_rows import bring_in


@pytest.fixture(autouse=True)
def rows(session: Session) -> None:
    bring_in(session, "Oil lamp\tlight\tled", "Fuel lamp\tlight\tled", "Crossfeed\tselector\trot\t4")
    add_board(session, "BD01", "T8S")
    add_board(session, "BD02", "T8S")
    session.commit()


def boards_of(session: Session) -> dict[str, str | None]:
    session.expire_all()
    codes = {board.id: board.code for board in session.exec(select(Board)).all()}
    return {f.code: codes.get(f.board_id) for f in session.exec(select(Function)).all()}


def test_a_whole_panel_goes_on_at_once(client: TestClient, session: Session) -> None:
    answer = client.post("/boards/BD01/functions", data={"panel": "P01"})
    assert "3 functions are put on BD01." in answer.text
    assert set(boards_of(session).values()) == {"BD01"}
    # 2 lamps, 4 positions and 2 pins of the link: 8 of 20 (scenario section 2, counting rules).
    assert "BD01 needs 8 pins and has 20 usable: 12 left (60 %)" in answer.text


def test_a_whole_panel_leaves_alone_what_sits_on_another_board(client: TestClient, session: Session) -> None:
    client.post("/boards/BD02/functions", data={"function": "F001"})
    client.post("/boards/BD01/functions", data={"panel": "P01"})
    assert boards_of(session) == {"F001": "BD02", "F002": "BD01", "F003": "BD01"}


def test_single_functions_go_on_from_another_board_too(client: TestClient, session: Session) -> None:
    client.post("/boards/BD02/functions", data={"panel": "P01"})
    page = client.get("/boards/BD01/functions?panel=P01").text
    assert "now on BD02" in page
    client.post("/boards/BD01/functions", data={"from": "choose", "function": ["F001", "F003"]})
    assert boards_of(session) == {"F001": "BD01", "F002": "BD02", "F003": "BD01"}


def test_functions_ticked_are_taken_off(client: TestClient, session: Session) -> None:
    client.post("/boards/BD01/functions", data={"panel": "P01"})
    answer = client.post("/boards/BD01/functions/off", data={"function": ["F001", "F002"]})
    assert "2 functions are off BD01." in answer.text
    assert boards_of(session) == {"F001": None, "F002": None, "F003": "BD01"}


@pytest.mark.parametrize(
    ("sent", "message"),
    [
        ({}, "Choose a panel or a function"),
        ({"panel": "P99"}, "There is no panel P99"),
        ({"function": "F999"}, "There is no function F999"),
        ({"from": "choose"}, "Choose a panel or a function"),
        ({"from": "choose", "panel": "<i>"}, "There is no panel &lt;i&gt;"),
    ],
)
def test_nothing_chosen_or_a_stranger_is_refused(
    client: TestClient, session: Session, sent: dict[str, str], message: str
) -> None:
    answer = client.post("/boards/BD01/functions", data=sent)
    assert answer.status_code == 422
    assert message in answer.text
    assert set(boards_of(session).values()) == {None}


def test_taking_off_with_nothing_ticked_says_so(client: TestClient) -> None:
    answer = client.post("/boards/BD01/functions/off", data={})
    assert answer.status_code == 422
    assert "Tick the functions to take off first." in answer.text


def test_what_finds_no_pin_is_named_at_once(client: TestClient, session: Session) -> None:
    bring_in(session, *(f"Needle {k}\tneedle\tgs4" for k in range(5)))
    answer = client.post("/boards/BD01/functions", data={"panel": "P01"})
    # Five needles of 4 pins and the link's 2: 22 of 20; one needle is left out.
    assert "Without a place there: F00" in answer.text
    assert "short by 2" in answer.text
    assert "22 terminals compete for 20 pins" in answer.text
