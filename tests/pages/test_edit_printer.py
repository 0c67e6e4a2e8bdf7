"""Entering a printer's limits."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.tables import Printer

VALID = {
    "version": "1",
    "name": "Printer",
    "speed_x_mm_s": "250 mm/s",
    "speed_y_mm_s": "200",
    "speed_z_mm_s": "10",
    "speed_e_mm_s": "45,5",
    "acceleration_mm_s2": "1500",
    "acceleration_z_mm_s2": "100 mm/s2",
    "acceleration_e_mm_s2": "3000",
    "junction_deviation_mm": "0.02",
    "queue_moves": "",
    "filament_diameter_mm": "1.75",
    "filament_density_g_cm3": "1.24",
    "figures_mark": "listed",
}


def kept(session: Session) -> Printer:
    session.expire_all()
    return session.exec(select(Printer).where(Printer.id == 1)).one()


def test_a_fresh_cockpit_has_one_printer_marked_assumed(client: TestClient, session: Session) -> None:
    assert kept(session).figures_mark == "assumed"
    assert "assumed" in client.get("/printers").text


def test_limits_are_kept_with_their_source_mark(client: TestClient, session: Session) -> None:
    answer = client.post("/printers/1", data=VALID)
    assert "Printer was kept." in answer.text
    printer = kept(session)
    assert (printer.speed_x_mm_s, printer.speed_e_mm_s, printer.acceleration_z_mm_s2) == (250.0, 45.5, 100.0)
    assert (printer.queue_moves, printer.figures_mark) == (None, "listed")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"speed_z_mm_s": "0"}, "Speed along z must be more than zero."),
        ({"speed_z_mm_s": ""}, "Speed along z is needed."),
        ({"acceleration_mm_s2": "1500 g"}, "Acceleration along x and y is wanted"),
        ({"filament_diameter_mm": "17.5"}, "Save again to keep it."),
        ({"junction_deviation_mm": "-0.1"}, "cannot be below zero"),
        ({"queue_moves": "0"}, "a whole number from 1"),
        ({"name": ""}, "Name is needed."),
    ],
)
def test_bad_input_is_said_at_its_field(
    client: TestClient, session: Session, change: dict[str, str], says: str
) -> None:
    answer = client.post("/printers/1", data={**VALID, **change})
    assert answer.status_code == 422
    assert says in answer.text
    assert 'value="45,5"' in answer.text
    assert kept(session).version == 1


def test_a_sharp_corner_is_no_error(client: TestClient, session: Session) -> None:
    client.post("/printers/1", data={**VALID, "junction_deviation_mm": "0"})
    assert kept(session).junction_deviation_mm == 0


def test_the_second_of_two_tabs_is_told_and_loses_nothing(client: TestClient, session: Session) -> None:
    client.post("/printers/1", data={**VALID, "name": "Theirs"})
    answer = client.post("/printers/1", data={**VALID, "name": "Mine"})
    assert answer.status_code == 409
    assert "Theirs" in answer.text
    assert 'value="Mine"' in answer.text
    assert kept(session).name == "Theirs"


def test_another_printer_is_added(client: TestClient, session: Session) -> None:
    answer = client.post("/printers/new", data={**VALID, "name": "Second"})
    assert "Second was added." in answer.text
    assert len(session.exec(select(Printer)).all()) == 2


def test_a_printer_that_is_not_there_is_said_in_words(client: TestClient) -> None:
    assert client.get("/printers/99").status_code == 404
    assert client.get(f"/printers/{10**30}").status_code == 404
