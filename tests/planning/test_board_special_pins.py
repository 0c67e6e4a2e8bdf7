"""Pins with something to mind, and what sits on them.

The pins that the ESP32 reads at start-up, and which level each must have then, are those of its data sheet
("strapping pins"): 0, 2, 5, 12, 15; 12 and 2 low, 5 and 15 high (from memory).
"""

import pytest
from sqlmodel import Session, select

from app.planning.board_special_pins import special_pin_findings
from app.planning.pin_plan import place_terminal
from app.tables import Board, ModulePin
from tests.planning.board_case import found, new_board, only


def on_pin(session: Session, module: str, pin: str, row: str, terminal: str) -> Board:
    """A board with one function of which this terminal sits on this pin."""
    board = new_board(session, module, row)
    place_terminal(session, board, pin, "F001", terminal)
    session.flush()
    return board


@pytest.mark.parametrize("pin", ["GPIO12", "GPIO2", "GPIO5", "GPIO15"])
def test_a_switch_on_a_pin_read_at_start_up_stops_with_the_condition_in_words(
    empty_session: Session, pin: str
) -> None:
    board = on_pin(empty_session, "T32W", pin, "Master\tswitch\ttg", "contact")
    finding = only(empty_session, board, special_pin_findings)
    assert finding.verdict == "stop"
    assert pin in finding.sentence
    assert "at reset" in finding.sentence
    assert "radio" not in finding.sentence  # another condition of the pin, which does not matter for a switch
    assert "Move it to" in finding.remedies[0]


def test_a_button_there_is_a_caution_since_it_must_be_held(empty_session: Session) -> None:
    board = on_pin(empty_session, "T32W", "GPIO12", "Test\tbutton\tbt", "contact")
    assert only(empty_session, board, special_pin_findings).verdict == "caution"


def test_a_lamp_there_is_fine(empty_session: Session) -> None:
    board = on_pin(empty_session, "T32W", "GPIO12", "Lamp\tlight\tled", "anode")
    finding = only(empty_session, board, special_pin_findings)
    assert finding.verdict == "fine"
    assert "GPIO12" in finding.sentence


def test_a_bus_pulls_a_pin_up_that_must_be_low(empty_session: Session) -> None:
    board = new_board(empty_session, "T32W", "Display\tdisplay\to64")
    place_terminal(empty_session, board, "GPIO12", "", "SDA", group="i2c")
    empty_session.flush()
    finding = only(empty_session, board, special_pin_findings)
    assert finding.verdict == "stop"
    assert "pull-up of the bus" in finding.sentence


def test_a_bus_on_a_pin_that_must_be_high_is_fine(empty_session: Session) -> None:
    board = new_board(empty_session, "T32W", "Display\tdisplay\to64")
    place_terminal(empty_session, board, "GPIO5", "", "SDA", group="i2c")
    empty_session.flush()
    assert only(empty_session, board, special_pin_findings).verdict == "fine"


def test_a_matrix_of_latching_switches_stops_at_its_column(empty_session: Session) -> None:
    board = new_board(empty_session, "T32W", *[f"Switch {k}\tswitch\tmx" for k in range(4)])
    place_terminal(empty_session, board, "GPIO12", "", "column 1", group="matrix")
    empty_session.flush()
    finding = only(empty_session, board, special_pin_findings)
    assert finding.verdict == "stop"
    assert "the matrix (column 1)" in finding.sentence


def test_a_contact_on_an_input_without_a_pull_up_wants_a_resistor(empty_session: Session) -> None:
    # ESP32 data sheet: GPIO34 to 39 are inputs only and have no pull-up.
    board = on_pin(empty_session, "T32W", "GPIO34", "Test\tbutton\tbt", "contact")
    finding = only(empty_session, board, special_pin_findings)
    assert finding.verdict == "caution"
    assert "resistor of its own" in finding.sentence


def test_a_lever_on_such_an_input_is_fine(empty_session: Session) -> None:
    board = on_pin(empty_session, "T32W", "GPIO34", "Lever\tlever or knob\tpot", "wiper")
    assert only(empty_session, board, special_pin_findings).verdict == "fine"


def test_a_switch_beside_an_led_on_the_module_is_a_caution_and_a_lamp_is_not(empty_session: Session) -> None:
    # Common practice: the LED at pin 13 pulls an input with an inside pull-up down.
    board = on_pin(empty_session, "T8S", "D13", "Switch\tswitch\ttg", "contact")
    assert only(empty_session, board, special_pin_findings).verdict == "caution"
    other = new_board(empty_session, "T8S", "Lamp\tlight\tled", code="B2")
    place_terminal(empty_session, other, "D13", "F002", "anode")
    empty_session.flush()
    assert only(empty_session, other, special_pin_findings).verdict == "fine"


def test_the_computer_link_is_where_it_belongs(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Lamp\tlight\tled")
    assert found(empty_session, board, special_pin_findings) == []


def test_words_that_are_not_known_are_not_judged(empty_session: Session) -> None:
    board = on_pin(empty_session, "T32W", "GPIO4", "Switch\tswitch\ttg", "contact")
    pin = empty_session.exec(
        select(ModulePin).where(ModulePin.module_id == board.module_id, ModulePin.label == "GPIO4")
    ).one()
    pin.condition = "near the aerial"
    empty_session.add(pin)
    empty_session.flush()
    assert found(empty_session, board, special_pin_findings) == []
