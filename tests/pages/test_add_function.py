"""Adding functions row by row on the panel's sheet."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.planning.board_edit import add_board
from app.planning.panel_edit import add_panel
from app.tables import Candidate, Component, Function
from tests.pages.form_reader import fields_of
from tests.pages.sheet_reader import read_sheet
from tests.pages.sheet_text import message_at, words_of

VALID = {
    "name": "Crossfeed",
    "kind": "rotary switch",
    "range": "4 positions",
    "signal": "cmd.crossfeed",
    "wiring": "rot",
    "n": "",
    "board": "BD06",
}
ADDRESS = "/panels/P07/functions"


@pytest.fixture(autouse=True)
def rows(session: Session) -> None:
    add_panel(session, "P07", "Fuel")
    add_board(session, "BD06", "T8S")
    session.commit()


def functions(session: Session) -> list[Function]:
    session.expire_all()
    return list(session.exec(select(Function).order_by(col(Function.place))).all())


def chosen(session: Session) -> list[str]:
    return list(
        session.exec(
            select(Component.code)
            .join(Candidate, col(Candidate.component_id) == Component.id)
            .where(Candidate.state == "chosen")
        ).all()
    )


def test_a_row_is_kept_read_and_put_on_its_board_and_the_form_is_ready_for_the_next(
    client: TestClient, session: Session
) -> None:
    answer = client.post(ADDRESS, data=VALID, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"].endswith("F001+Crossfeed+is+kept.#add-function")
    (function,) = functions(session)
    assert (function.code, function.kind, function.positions, function.place) == ("F001", "selector", 4, 0)
    assert (function.range_text, function.signal, function.board_id) == ("4 positions", "cmd.crossfeed", 1)
    assert chosen(session) == ["rot"]
    page = client.get(answer.headers["location"]).text
    assert set(fields_of(page, ADDRESS).values()) == {""}
    # A switch on pins takes one pin a position: 4 (scenario section 2, counting rules).
    row = words_of(page, '<tr id="item-1"', "</tr>")
    assert row.count("D") >= 4
    assert row.endswith("BD06")


def test_the_next_row_stands_behind_the_first(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data=VALID)
    client.post(ADDRESS, data={**VALID, "name": "Boost pump"})
    assert [(f.code, f.place) for f in functions(session)] == [("F001", 0), ("F002", 1)]


def test_name_and_kind_are_enough(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data={"name": "Smoke", "kind": "smoke machine"})
    (function,) = functions(session)
    assert (function.kind, function.board_id, function.positions) == ("smoke machine", None, None)


def test_positions_typed_win_over_those_of_the_range(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data={**VALID, "n": "6"})
    assert functions(session)[0].positions == 6


def test_an_unknown_wiring_word_is_kept_as_text_and_the_builder_is_told(
    client: TestClient, session: Session
) -> None:
    answer = client.post(ADDRESS, data={**VALID, "wiring": "magic"})
    assert "'magic' is no component of the list: kept as text" in words_of(answer.text, "<body", "</body>")
    assert (functions(session)[0].wiring_text, chosen(session)) == ("magic", [])


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("name", " ", "Name is needed."),
        ("name", "x" * 301, "Name has 301 characters; at most 300 are kept."),
        ("kind", "", "Kind is needed."),
        ("kind", "k" * 61, "Kind has 61 characters; at most 60 are kept."),
        ("range", "r" * 301, "at most 300 are kept"),
        ("signal", "s" * 301, "at most 300 are kept"),
        ("wiring", "w" * 301, "at most 300 are kept"),
        ("n", "0", "Positions is a whole number from 1 to 100; 0 is not."),
        ("n", "-2", "below zero"),
        ("n", "101", "from 1 to 100"),
        ("n", "1.5", "whole numbers"),
        ("n", "six", "is not a number"),
        ("n", "3 mm", "a length"),
        ("board", "BD99", "There is no board BD99 in this cockpit."),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_kept_as_typed(
    client: TestClient, session: Session, field: str, value: str, message: str
) -> None:
    answer = client.post(ADDRESS, data={**VALID, field: value})
    assert answer.status_code == 422
    assert message in message_at(answer.text, field)
    if field != "board":
        assert fields_of(answer.text, ADDRESS) == {**VALID, field: value}
    assert read_sheet(answer.text).troubles == []
    assert functions(session) == []


def test_a_name_that_is_on_the_panel_already_is_not_doubled(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data=VALID)
    answer = client.post(ADDRESS, data={**VALID, "name": " cross FEED", "range": "6 positions"})
    assert answer.status_code == 422
    assert "on the panel already" in message_at(answer.text, "name")
    assert [f.positions for f in functions(session)] == [4]


def test_a_range_with_two_equal_ends_is_refused(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data={**VALID, "kind": "needle", "range": "5-5 bar"})
    found = functions(session)
    assert [(f.range_text, f.low, f.high) for f in found] == [("5-5 bar", None, None)]


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", '"><i>x', "مقياس", "🛩️ lamp", "a\tb", "=1+1"])
def test_any_name_is_shown_as_text(client: TestClient, session: Session, name: str) -> None:
    answer = client.post(ADDRESS, data={**VALID, "name": name, "kind": name, "signal": name})
    shown = " ".join(name.split())
    assert functions(session)[0].name == shown
    assert shown in words_of(answer.text)
    for sheet in ("/panels/P07", "/functions/F001", "/functions/F001/edit", "/boards/BD06", "/panels"):
        assert read_sheet(client.get(sheet).text).troubles == []


def test_a_panel_that_is_not_there_takes_no_function(client: TestClient, session: Session) -> None:
    assert client.post("/panels/P99/functions", data=VALID).status_code == 404
    assert functions(session) == []
