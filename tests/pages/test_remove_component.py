"""Taking a component away: only one that nothing uses."""

from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.choose import set_candidate
from app.planning.panel_edit import add_panel
from app.tables import Component, Function


def is_there(session: Session, code: str) -> bool:
    session.expire_all()
    return session.exec(select(Component.id).where(Component.code == code)).first() is not None


def test_an_unused_component_goes(client: TestClient, session: Session) -> None:
    answer = client.post("/components/sve/remove", follow_redirects=False)
    assert answer.headers["location"].startswith("/components?")
    assert not is_there(session, "sve")
    assert "sve" not in client.get("/components/svd").text  # it was the servo's way to fewer pins


def test_a_rejected_one_stays_with_its_reason(client: TestClient, session: Session) -> None:
    panel = add_panel(session, "P1", "Fuel")
    function = Function(code="F1", panel_id=panel.id or 0, name="Left", kind="needle")
    session.add(function)
    session.flush()
    servo = session.exec(select(Component.id).where(Component.code == "svd")).one() or 0
    set_candidate(session, function, servo, "rejected", "dead band of 0.5 deg shows")
    session.commit()
    answer = client.post("/components/svd/remove")
    assert "weighed or rejected by 1 functions" in answer.text
    assert is_there(session, "svd")
    assert "dead band of 0.5 deg shows" in answer.text


def test_an_unknown_component_cannot_go(client: TestClient) -> None:
    assert client.post("/components/gs9/remove").status_code == 404
