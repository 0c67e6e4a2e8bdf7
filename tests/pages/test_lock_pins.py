"""Locking the pins that are soldered, and putting a terminal on the pin named."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.tables import PinPlan, PinUse
from tests.pages.cockpit_rows import board_with


@pytest.fixture(autouse=True)
def board(session: Session) -> None:
    board_with(session, "Oil lamp\tlight\tled", "Knob\tlever or knob\tpot")


def locked(session: Session) -> set[str]:
    session.expire_all()
    return {use.pin_label for use in session.exec(select(PinUse)).all() if use.is_locked}


def used(session: Session) -> dict[str, str]:
    session.expire_all()
    return {use.pin_label: use.terminal for use in session.exec(select(PinUse)).all()}


def seen(session: Session) -> str:
    session.expire_all()
    return session.exec(select(PinPlan)).one().solved_at.isoformat()


def test_the_pins_ticked_are_locked_and_shown_ticked(client: TestClient, session: Session) -> None:
    pins = sorted(used(session))[:2]
    answer = client.post("/boards/BD01/locks", data={"seen": seen(session), "lock": pins})
    assert "2 pins are locked." in answer.text
    assert locked(session) == set(pins)
    assert answer.text.count(' checked><span class="visually-hidden">Lock') == 2


def test_none_ticked_unlocks_all(client: TestClient, session: Session) -> None:
    client.post("/boards/BD01/locks", data={"seen": seen(session), "lock": sorted(used(session))})
    client.post("/boards/BD01/locks", data={"seen": seen(session)})
    assert locked(session) == set()


def test_a_tab_opened_before_the_pins_were_solved_anew_is_told(client: TestClient, session: Session) -> None:
    before = seen(session)
    client.post("/boards/BD01/functions/off", data={"function": "F001"})
    answer = client.post("/boards/BD01/locks", data={"seen": before, "lock": sorted(used(session))})
    assert answer.status_code == 409
    assert "solved anew in another tab" in answer.text
    assert locked(session) == set()


def test_a_terminal_goes_on_the_pin_named_and_is_locked_there(client: TestClient, session: Session) -> None:
    sent = {"terminal": "F001||anode", "pin_label": "D7"}
    answer = client.post("/boards/BD01/place", data=sent)
    assert "F001 anode is on D7 and locked there." in answer.text
    assert used(session)["D7"] == "anode"
    assert locked(session) == {"D7"}


@pytest.mark.parametrize(
    ("sent", "field", "message"),
    [
        ({"terminal": "F002||wiper", "pin_label": "D7"}, "pin_label", "D7 can do"),
        ({"terminal": "F002||wiper", "pin_label": "5V"}, "pin_label", "one of those offered"),
        ({"terminal": "F999||x", "pin_label": "D7"}, "terminal", "one of those offered"),
        ({"terminal": "", "pin_label": ""}, "terminal", "Terminal is needed"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(
    client: TestClient, session: Session, sent: dict[str, str], field: str, message: str
) -> None:
    before = used(session)
    answer = client.post("/boards/BD01/place", data=sent)
    assert answer.status_code == 422
    assert message in answer.text
    assert f'id="e-{field}"' in answer.text
    assert used(session) == before


def test_a_locked_pin_refuses_another_terminal_by_name(client: TestClient, session: Session) -> None:
    client.post("/boards/BD01/place", data={"terminal": "F001||anode", "pin_label": "A0"})
    answer = client.post("/boards/BD01/place", data={"terminal": "F002||wiper", "pin_label": "A0"})
    assert answer.status_code == 422
    assert "Pin A0 is locked for F001 anode; unlock it first." in answer.text
