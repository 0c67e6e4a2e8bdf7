"""Writing down a board's bus and matrix; solving its remedies and taking one."""

import time

from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.board_edit import add_board
from app.planning.bring_in import keep_list, preview_list
from app.tables import BoardBus, Candidate, Component, MatrixContact


def bring(session: Session, *rows: str) -> None:
    """A board B1 of the small module with the functions listed: name, kind, wiring, positions."""
    add_board(session, "B1", "T8S")
    lines = ["panel\tboard\tname\tkind\twiring\tn", *(f"P01\tB1\t{row}" for row in rows)]
    keep_list(session, preview_list(session, "\n".join(lines)))
    session.commit()


def test_the_bus_is_kept_with_its_units(client: TestClient, session: Session) -> None:
    bring(session, "Window\tdisplay\to32\t")
    typed = {"clock_khz": "400", "run_m": "30 cm", "pull_up_ohm_each": "4.7 kohm", "figures_mark": "measured"}
    answer = client.post("/boards/B1/record/bus", data=typed, follow_redirects=False)
    assert answer.status_code == 303
    bus = session.exec(select(BoardBus)).one()
    assert (bus.clock_khz, bus.run_m, bus.pull_up_ohm_each) == (400.0, 0.3, 4700.0)
    assert "too weak" not in client.get("/boards/B1/record").text


def test_a_voltage_for_the_run_is_refused_at_its_field(client: TestClient, session: Session) -> None:
    bring(session, "Window\tdisplay\to32\t")
    answer = client.post("/boards/B1/record/bus", data={"clock_khz": "400", "run_m": "5 V"})
    assert answer.status_code == 422
    assert 'value="5 V"' in answer.text
    assert session.exec(select(BoardBus)).all() == []


def test_two_contacts_at_one_place_are_refused(client: TestClient, session: Session) -> None:
    bring(session, "Pump\tswitch\tmx\t", "Valve\tswitch\tmx\t")
    typed = {"row-F001-1": "1", "column-F001-1": "1", "row-F002-1": "1", "column-F002-1": "1"}
    answer = client.post("/boards/B1/record/matrix", data=typed)
    assert answer.status_code == 422
    assert "both sit at row 1, column 1" in answer.text
    assert session.exec(select(MatrixContact)).all() == []


def test_remedies_are_solved_only_when_asked_for_and_one_is_taken(
    client: TestClient, session: Session
) -> None:
    needles = [f"Needle {i}\tneedle\tgs4\t" for i in range(3)]
    bring(
        session,
        *needles,
        "Mode\tselector\trot\t4",
        "Pump\tswitch\ttg\t",
        "Valve\tswitch\ttg\t",
        "Lamp\tlight\tled\t",
    )
    assert "Solve the remedies" in client.get("/boards/B1/remedies").text
    client.post("/boards/B1/remedies")
    for _ in range(200):
        page = client.get("/boards/B1/remedies").text
        if "<progress" not in page:
            break
        time.sleep(0.05)
    assert "Gauge driver" in page
    answer = client.post("/boards/B1/remedies/take", data={"only": "gauge-driver"}, follow_redirects=False)
    assert answer.status_code == 303
    driver = session.exec(select(Component.id).where(Component.code == "gsd")).one()
    chosen = session.exec(
        select(Candidate).where(Candidate.component_id == driver, Candidate.state == "chosen")
    ).all()
    assert len(chosen) == 3


def test_a_remedy_that_is_not_in_the_table_is_refused(client: TestClient, session: Session) -> None:
    bring(session, "Lamp\tlight\tled\t")
    answer = client.post("/boards/B1/remedies/try", data={"code": "magic"})
    assert answer.status_code == 422
    assert "magic" in answer.text
