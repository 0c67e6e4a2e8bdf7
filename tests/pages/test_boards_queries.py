"""The boards' sheets ask the database as often for twenty boards as for two; reading writes nothing."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import Engine, event
from sqlmodel import Session

from app.planning.board_edit import add_board
from tests.pages.cockpit_rows import board_with

SHEETS = ("/boards", "/boards/BD01", "/boards/BD01/functions", "/boards/BD01/firmware", "/board-modules")


@contextmanager
def statements(engine: Engine) -> Iterator[list[str]]:
    seen: list[str] = []

    def note(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
        seen.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    yield seen
    event.remove(engine, "before_cursor_execute", note)


def asked(client: TestClient, sheet: str) -> list[str]:
    client.get(sheet)
    with statements(client.app.state.engine) as seen:  # type: ignore[attr-defined]  # the application's own state
        assert client.get(sheet).status_code == 200
    return seen


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_sheet_asks_as_often_for_many_boards_as_for_one(
    client: TestClient, session: Session, sheet: str
) -> None:
    board_with(session, "Oil lamp\tlight\tled")
    few = asked(client, sheet)
    for number in range(2, 20):
        add_board(session, f"BD{number:02d}", "T8S")
    session.commit()
    many = asked(client, sheet)
    assert len(many) == len(few)
    assert not [text for text in many if text.lstrip().split()[0] in ("INSERT", "UPDATE", "DELETE")]
