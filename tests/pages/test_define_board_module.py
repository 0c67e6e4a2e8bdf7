"""Defining a board module of one's own: choosing a chip, its pins, keeping, changing, taking away."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.board_edit import add_board
from app.tables import BoardModule, ModulePin, PinUse

VALID = {
    "chip": "atmega328p-au",
    "copy": "",
    "code": "M01",
    "name": "Little one",
    "logic_v": "5 V",
    "link": "port chip",
    "program_bytes": "32768",
    "boot_loader_bytes": "512",
    "memory_bytes": "2 KB",
    "eeprom_bytes": "1024",
    "figures_mark": "listed",
    "source": "the data set",
    "width_mm": "18",
    "length_mm": "1 3/4 in",
    "pins_left": "D0 = PD0\nD1 = PD1\nGND\nD2 = PD2",
    "pins_right": "D3 = PD3 | reserved: a lamp\nA0 = PC0 | mind: near the radio",
    "pins_top": "",
    "pins_bottom": "",
    "note": "",
}


def module(session: Session) -> BoardModule:
    session.expire_all()
    return session.exec(select(BoardModule).where(BoardModule.code == "M01")).one()


def pins(session: Session) -> dict[str, ModulePin]:
    rows = session.exec(select(ModulePin).where(ModulePin.module_id == module(session).id)).all()
    return {pin.label: pin for pin in rows}


def test_every_starter_module_stands_in_the_list_and_has_a_sheet(
    client: TestClient, session: Session
) -> None:
    page = client.get("/board-modules").text
    for code in session.exec(select(BoardModule.code)).all():
        assert f'href="/board-modules/{code}"' in page
        assert client.get(f"/board-modules/{code}").status_code == 200
    # Issue 2: the first module, without the analogue-only pins, has 20 usable pins, 6 of them analogue.
    assert "20 usable pins, 6 analogue" in client.get("/board-modules/T8S").text


def test_limits_stand_on_the_sheet_with_their_source(client: TestClient) -> None:
    sheet = client.get("/board-modules/T8S").text
    assert "40 mA" in sheet  # the chip's data sheet, absolute maximum ratings: 40 mA a pin
    assert "data sheet" in sheet


def test_a_chip_is_found_by_part_of_its_name(client: TestClient) -> None:
    page = client.get("/board-modules/new?q=1284p").text
    assert "/board-modules/new?chip=atmega1284p-an" in page
    part = client.get("/board-modules/new?q=1284p", headers={"hx-request": "true"}).text
    assert "atmega1284p-an" in part
    assert "<html" not in part


def test_a_chip_that_nobody_knows_is_said_to_be_unknown(client: TestClient) -> None:
    assert "No chip is called anything like zz80" in client.get("/board-modules/new?q=zz80").text
    assert client.get("/board-modules/new?chip=zz80").status_code == 404


def test_the_form_begins_with_every_pin_of_the_chip_on_two_sides(client: TestClient) -> None:
    page = client.get("/board-modules/new?chip=atmega1284p").text
    for port in "ABCD":
        for number in range(8):
            assert f"P{port}{number}" in page
    assert 'value="131072"' in page  # avr-libc, iom1284p.h: FLASHEND 0x1FFFF


def test_a_module_is_kept_with_its_pins(client: TestClient, session: Session) -> None:
    answer = client.post("/board-modules/new", data=VALID)
    assert "M01 is kept." in answer.text
    kept = module(session)
    assert (kept.chip, kept.memory_bytes, kept.length_mm, kept.is_starter) == (
        "atmega328p-au",
        2048,
        44.45,
        False,
    )
    assert pins(session)["D3"].reserved_for == "a lamp"
    assert pins(session)["A0"].condition == "near the radio"
    assert "analogue:A0" in pins(session)["A0"].abilities
    assert "4 usable pins, 1 analogue" in answer.text


def test_the_drawing_is_shown_before_anything_is_kept(client: TestClient, session: Session) -> None:
    answer = client.post("/board-modules/new", data={**VALID, "look": "yes"})
    assert answer.status_code == 200
    assert "4 usable pins. Nothing is kept yet" in answer.text
    assert session.exec(select(BoardModule).where(BoardModule.code == "M01")).all() == []


@pytest.mark.parametrize(
    ("field", "text", "message"),
    [
        ("code", "T8S", "another module"),
        ("code", "new", "address"),
        ("name", "", "Name is needed"),
        ("logic_v", "5 mA", "V or mV"),
        ("logic_v", "240", "Save again to keep it"),
        ("link", "telepathy", "one of those offered"),
        ("program_bytes", "0", "more than 0"),
        ("boot_loader_bytes", "40000", "leaves nothing"),
        ("memory_bytes", "-1", "Memory"),
        ("memory_bytes", "lots", "Memory"),
        ("width_mm", "0", "more than 0"),
        ("width_mm", "3 1/0 in", "Width"),
        ("figures_mark", "sworn", "one of those offered"),
        ("pins_left", "", "PD0"),
        ("pins_left", "D0 = PX9", "Line 1: the chip has no pin"),
        ("pins_right", "D3 = PD0", "Line 1: chip pin PD0 is at D0 already."),
        ("pins_top", "\n\nwhat is this", "Line 3"),
    ],
)
def test_typed_nonsense_is_refused_at_its_field(
    client: TestClient, session: Session, field: str, text: str, message: str
) -> None:
    if (field, text) == ("pins_left", ""):
        sent = {**VALID, "pins_left": "", "pins_right": ""}
        message = "no pin carries a signal"
    else:
        sent = {**VALID, field: text}
    answer = client.post("/board-modules/new", data=sent)
    assert answer.status_code == 422
    assert message in answer.text
    assert f'id="e-{field}"' in answer.text
    assert session.exec(select(BoardModule).where(BoardModule.code == "M01")).all() == []


def test_an_absurd_voltage_is_kept_when_it_is_sent_again(client: TestClient, session: Session) -> None:
    asked = client.post("/board-modules/new", data={**VALID, "logic_v": "48"})
    assert 'name="sure-logic_v" value="48"' in asked.text
    client.post("/board-modules/new", data={**VALID, "logic_v": "48", "sure-logic_v": "48"})
    assert module(session).logic_v == 48


def test_a_starter_module_is_copied_not_changed(client: TestClient, session: Session) -> None:
    assert client.get("/board-modules/T8S/edit").status_code == 409
    page = client.get("/board-modules/new?copy=T32W")
    assert page.status_code == 200
    assert "GPIO12" in page.text
    assert client.post("/board-modules/T8S/delete").status_code == 409


def test_a_changed_module_solves_its_boards_anew(client: TestClient, session: Session) -> None:
    client.post("/board-modules/new", data=VALID)
    add_board(session, "BD01", "M01")
    session.commit()
    form = client.get("/board-modules/M01/edit").text
    assert "D3 = PD3 | reserved: a lamp" in form
    changed = {**VALID, "version": "1", "link": "radio", "pins_left": "D0 = PD0\nD2 = PD2"}
    answer = client.post("/board-modules/M01/edit", data=changed)
    assert "The pins of BD01 were solved anew." in answer.text
    session.expire_all()
    assert session.exec(select(PinUse)).all() == []  # by radio the link takes no pin
    assert set(pins(session)) == {"D0", "D2", "D3", "A0"}


def test_the_second_of_two_tabs_sees_both_versions(client: TestClient, session: Session) -> None:
    client.post("/board-modules/new", data=VALID)
    client.post("/board-modules/M01/edit", data={**VALID, "version": "1", "name": "First"})
    answer = client.post("/board-modules/M01/edit", data={**VALID, "version": "1", "name": "Second"})
    assert answer.status_code == 409
    assert "First" in answer.text
    assert "Second" in answer.text
    assert 'name="version" value="2"' in answer.text
    assert module(session).name == "First"


def test_a_module_goes_only_when_no_board_is_of_it(client: TestClient, session: Session) -> None:
    client.post("/board-modules/new", data=VALID)
    add_board(session, "BD01", "M01")
    session.commit()
    assert client.post("/board-modules/M01/delete").status_code == 409
    client.post("/boards/BD01/delete")
    assert "M01 is taken away." in client.post("/board-modules/M01/delete").text
