"""Adding a board, and the list it then stands in."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.tables import Board

VALID = {
    "code": "BD07",
    "name": "Overhead",
    "module": "T8S",
    "boot_loader_bytes": "",
    "stack_reserve_bytes": "300",
    "note": "",
}


def test_an_empty_list_says_what_goes_there_and_offers_to_begin(client: TestClient) -> None:
    answer = client.get("/boards")
    assert answer.status_code == 200
    assert 'href="/boards/new"' in answer.text


def test_the_form_suggests_the_next_id(client: TestClient) -> None:
    assert 'value="BD01"' in client.get("/boards/new").text


def test_a_board_is_kept_and_its_sheet_is_shown(client: TestClient, session: Session) -> None:
    answer = client.post("/boards/new", data=VALID, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/boards/BD07?notice=")
    board = session.exec(select(Board)).one()
    assert (board.code, board.name, board.stack_reserve_bytes) == ("BD07", "Overhead", 300)
    assert board.boot_loader_bytes is None
    sheet = client.get("/boards/BD07")
    assert sheet.status_code == 200
    assert "20 usable pins" in sheet.text
    assert "BD07 Overhead" in client.get("/boards").text


@pytest.mark.parametrize(
    ("field", "text", "message"),
    [
        ("code", "", "Id is needed"),
        ("code", "BD 07", "does not fit"),
        ("code", "new", "address"),
        ("module", "", "Module is needed"),
        ("module", "T99", "one of those offered"),
        ("boot_loader_bytes", "250 mV", "bytes, KB or MB"),
        ("boot_loader_bytes", "32 KB", "leaves nothing of the 32,768 bytes"),
        ("boot_loader_bytes", "-5", "Boot loader"),
        ("stack_reserve_bytes", "", "Stack reserve is needed"),
        ("stack_reserve_bytes", "3 1/0", "Stack reserve"),
        ("name", "x" * 301, "at most 300"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_at_its_field_and_kept_as_typed(
    client: TestClient, session: Session, field: str, text: str, message: str
) -> None:
    answer = client.post("/boards/new", data={**VALID, field: text, "note": "typed already"})
    assert answer.status_code == 422
    assert message in answer.text
    assert f'id="e-{field}"' in answer.text
    assert "typed already" in answer.text
    assert session.exec(select(Board)).all() == []


def test_an_id_is_taken_once(client: TestClient) -> None:
    client.post("/boards/new", data=VALID)
    answer = client.post("/boards/new", data={**VALID, "code": "bd07"})
    assert answer.status_code == 422
    assert "another board" in answer.text


def test_a_name_with_markup_and_signs_of_every_script_is_shown_as_text(client: TestClient) -> None:
    name = "<b>Öl</b> לוח 🛩 & co"
    client.post("/boards/new", data={**VALID, "name": name})
    for address in (
        "/boards",
        "/boards/BD07",
        "/boards/BD07/edit",
        "/boards/BD07/functions",
        "/boards/BD07/delete",
    ):
        text = client.get(address).text
        assert "&lt;b&gt;Öl&lt;/b&gt; לוח 🛩 &amp; co" in text
        assert "<b>Öl" not in text


def test_an_id_of_another_script_has_a_sheet_of_its_own(client: TestClient) -> None:
    answer = client.post("/boards/new", data={**VALID, "code": "Brett-Ä1"})
    assert answer.status_code == 200
    assert "Brett-Ä1" in answer.text


def test_a_board_that_is_not_there_says_so(client: TestClient) -> None:
    for address in ("/boards/BD99", "/boards/BD99/edit", "/boards/BD99/firmware", "/boards/BD99/functions"):
        answer = client.get(address)
        assert answer.status_code == 404
        assert "There is no board BD99" in answer.text
