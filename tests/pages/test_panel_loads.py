"""Loads of a panel that are no function: light strips and the like."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.panel_edit import add_panel
from app.tables import Component, PanelLoad
from tests.pages.form_reader import fields_of
from tests.pages.sheet_text import message_at, words_of

VALID = {"load": "strip", "load_count": "3"}


@pytest.fixture(autouse=True)
def rows(session: Session) -> None:
    add_panel(session, "P07", "Fuel")
    add_panel(session, "P08", "Electrics")
    strip = session.exec(select(Component).where(Component.code == "strip")).one()
    strip.typical_ma, strip.peak_ma, strip.peak_mark = 200, 250, "measured"
    session.commit()


def loads(session: Session) -> list[tuple[int, int]]:
    session.expire_all()
    return [(load.panel_id, load.count) for load in session.exec(select(PanelLoad)).all()]


def test_a_load_is_kept_and_counts_on_its_rail(client: TestClient, session: Session) -> None:
    answer = client.post("/panels/P07/loads", data=VALID)
    assert loads(session) == [(1, 3)]
    assert "3 × White light strip" in words_of(answer.text)
    # Three of 200 mA typical and 250 mA peak.
    rail = words_of(answer.text, "<h3>This panel on the rails</h3>", "</table>")
    assert "0.60 A 0.75 A" in rail


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("load", "", "Component is needed."),
        ("load", "no such part", "'no such part' is no component of the list."),
        ("load_count", "", "Count is needed."),
        ("load_count", "0", "Count is a whole number from 1 to 1,000; 0 is not."),
        ("load_count", "-1", "below zero"),
        ("load_count", "2.5", "whole numbers"),
        ("load_count", "1001", "from 1 to 1,000"),
        ("load_count", "5 mA", "a current"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_kept_as_typed(
    client: TestClient, session: Session, field: str, value: str, message: str
) -> None:
    answer = client.post("/panels/P07/loads", data={**VALID, field: value})
    assert answer.status_code == 422
    assert message in message_at(answer.text, field)
    if field == "load_count":
        assert fields_of(answer.text, "/panels/P07/loads") == {"load": "strip", "load_count": value}
    assert loads(session) == []


def test_a_load_is_taken_off(client: TestClient, session: Session) -> None:
    client.post("/panels/P07/loads", data=VALID)
    client.post("/panels/P07/loads", data={**VALID, "load_count": "1"})
    client.post("/panels/P07/loads/1/remove")
    assert loads(session) == [(1, 1)]


@pytest.mark.parametrize(
    "address", ["/panels/P08/loads/1", "/panels/P07/loads/2", f"/panels/P07/loads/{2**70}"]
)
def test_a_load_that_is_not_there_says_so(client: TestClient, session: Session, address: str) -> None:
    client.post("/panels/P07/loads", data=VALID)
    assert client.post(f"{address}/remove").status_code == 404
    assert loads(session) == [(1, 3)]
