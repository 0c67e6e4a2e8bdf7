"""One component's sheet: every figure with its mark, its terminals, who weighed it."""

from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.choose import set_candidate
from app.planning.panel_edit import add_panel
from app.tables import Component, Function
from tests.pages.sheet_text import words_of


def test_every_figure_stands_with_its_source_mark(client: TestClient) -> None:
    words = words_of(client.get("/components/svd").text)
    assert "Idle 10 mA assumed Typical 60 mA assumed Peak, stalled 700 mA assumed" in words
    assert "Cost each 4.5 assumed" in words
    assert "From rail 6S 6 V servos, 6 V" in words
    assert "servo pulses 1,500 bytes 60 bytes assumed" in words  # scenario, section 10, libraries
    assert "Width × height not entered" in words


def test_terminals_stand_with_what_they_need(client: TestClient) -> None:
    words = words_of(client.get("/components/rot").text)
    assert "1 input a position." in words
    assert "position input not shared once a position" in words


def test_functions_stand_with_their_reasons(client: TestClient, session: Session) -> None:
    panel = add_panel(session, "P1", "Fuel")
    for code, state, reason in (("F1", "rejected", "too slow"), ("F2", "chosen", "worked on six others")):
        function = Function(code=code, panel_id=panel.id or 0, name=f"Gauge {code}", kind="needle")
        session.add(function)
        session.flush()
        servo = session.exec(select(Component.id).where(Component.code == "svd")).one() or 0
        set_candidate(session, function, servo, state, reason)
    session.commit()
    words = words_of(client.get("/components/svd").text)
    assert (
        "F2 Gauge F2 P1 none yet chosen worked on six others F1 Gauge F1 P1 none yet rejected too slow"
        in words
    )
    assert "Used by 1 function" in words


def test_a_component_in_use_without_a_rail_says_that_its_current_is_in_no_sum(
    client: TestClient, session: Session
) -> None:
    panel = add_panel(session, "P1", "Fuel")
    function = Function(code="F1", panel_id=panel.id or 0, name="Left", kind="needle")
    servo = session.exec(select(Component).where(Component.code == "svd")).one()
    servo.rail_id = None
    session.add_all([function, servo])
    session.flush()
    set_candidate(session, function, servo.id or 0, "chosen")
    session.commit()
    words = words_of(client.get("/components/svd").text)
    assert "What is missing 1 Cannot tell" in words
    assert "No rail entered" in words


def test_an_unknown_component_is_answered_in_words(client: TestClient) -> None:
    answer = client.get("/components/gs9")
    assert answer.status_code == 404
    assert "There is no component gs9 in this cockpit." in words_of(answer.text)
