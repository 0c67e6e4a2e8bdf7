"""The pin budget of a board: what it says when figures are missing, when it is nearly full, when it is short."""

import pytest
from sqlmodel import Session, select

from app.planning.board_edit import add_board
from app.planning.board_pins import BoardPins, board_pins
from app.planning.bring_in import keep_list, preview_list
from app.planning.plan import read_plan
from app.tables import Board


def pins_of(session: Session, module: str, *rows: str) -> BoardPins:
    """The pin budget of a new board of this module with the functions listed (name, kind, wiring, positions)."""
    board = add_board(session, "B1", module)
    lines = ["panel\tboard\tname\tkind\twiring\tn", *(f"P01\tB1\t{row}" for row in rows)]
    keep_list(session, preview_list(session, "\n".join(lines)))
    plan = read_plan(session)
    return board_pins(plan, plan.boards[board.id or 0])


def test_a_board_without_functions_cannot_tell(empty_session: Session) -> None:
    pins = pins_of(empty_session, "T8S")
    assert pins.finding.verdict == "cannot tell"
    assert "20 usable pins" in pins.finding.sentence


def test_a_function_without_a_component_makes_a_board_that_would_fit_cannot_tell(
    empty_session: Session,
) -> None:
    pins = pins_of(empty_session, "T8S", "Oil lamp\tlight\tled", "Oil needle\tneedle\tsome drive")
    assert pins.finding.verdict == "cannot tell"
    assert "Oil needle" in pins.finding.sentence
    assert "F001" not in pins.finding.sentence


def test_a_board_already_short_stops_whatever_is_missing(empty_session: Session) -> None:
    needles = [f"Needle {i}\tneedle\tgs4" for i in range(5)]
    pins = pins_of(empty_session, "T8S", *needles, "Unknown\tneedle\t?")
    # 5 needles of 4 pins and 2 for the link: 22 of 20.
    assert pins.finding.verdict == "stop"
    assert "short by 2" in pins.finding.sentence
    assert "no component is chosen for" in pins.finding.sentence


def test_less_than_fifteen_in_a_hundred_left_is_a_caution(empty_session: Session) -> None:
    # 4 needles are 16 pins, the link 2: 18 of 20, 2 left are 10 %.
    pins = pins_of(empty_session, "T8S", *[f"Needle {i}\tneedle\tgs4" for i in range(4)])
    assert (pins.left, pins.finding.verdict) == (2, "caution")
    assert "10 %" in pins.finding.sentence


def test_just_fifteen_in_a_hundred_left_is_fine(empty_session: Session) -> None:
    # 15 buttons and the link: 17 of 20, 3 left are 15 %.
    pins = pins_of(empty_session, "T8S", *[f"Button {i}\tbutton\tbt" for i in range(15)])
    assert (pins.left, pins.finding.verdict) == (3, "fine")


def test_enough_pins_of_the_wrong_ability_stop_and_say_who_competes(empty_session: Session) -> None:
    knobs = [f"Knob {i}\tlever or knob\tpot" for i in range(7)]
    pins = pins_of(empty_session, "T8S", *knobs)
    assert pins.left == 11
    assert pins.finding.verdict == "stop"
    assert "7 terminals compete for 6 analogue pins" in pins.finding.sentence
    assert [function.name for function in pins.left_out] == ["Knob 6"]


def test_an_analogue_knob_and_the_bus_compete_for_the_pins_they_share(empty_session: Session) -> None:
    """On an ATmega328P the two-wire bus lies on two of the analogue pins (values.md S6.10, data sheet)."""
    knobs = [f"Knob {i}\tlever or knob\tpot" for i in range(5)]
    pins = pins_of(empty_session, "T8S", *knobs, "Window\tdisplay\to32")
    assert pins.finding.verdict == "stop"
    assert len(pins.left_out) == 1


def test_a_selector_counts_its_positions_and_a_switch_counts_once(empty_session: Session) -> None:
    pins = pins_of(
        empty_session, "T8S", "Mode\tselector\trot\t5", "Pump\tswitch\tmx", "Valve\tselector\tmx\t3"
    )
    assert pins.demand.own == 5
    assert pins.demand.matrix is not None
    assert pins.demand.matrix.contacts == 4


def test_a_selector_without_positions_cannot_be_counted(empty_session: Session) -> None:
    pins = pins_of(empty_session, "T8S", "Mode\tselector\trot")
    assert pins.finding.verdict == "cannot tell"
    assert "number of positions is missing for F001 Mode" in pins.finding.sentence


@pytest.mark.parametrize(("module", "link"), [("T8S", 2), ("T8L", 2), ("T32", 0), ("T32W", 0)])
def test_the_link_takes_two_pins_only_through_a_port_chip(
    empty_session: Session, module: str, link: int
) -> None:
    # Scenario section 2, counting rules.
    assert pins_of(empty_session, module, "Lamp\tlight\tled").demand.link == link


def test_locked_pins_stay_when_a_function_is_added(empty_session: Session) -> None:
    from app.planning.pin_plan import lock_pins
    from app.tables import PinUse

    pins_of(empty_session, "T8S", "Lamp\tlight\tled", "Needle\tneedle\tgs4")
    board = empty_session.exec(select(Board)).one()
    before = {use.pin_label: use.terminal for use in empty_session.exec(select(PinUse)).all()}
    lock_pins(empty_session, board, list(before))
    extra = "panel\tboard\tname\tkind\twiring\nP01\tB1\tSecond needle\tneedle\tgs4"
    keep_list(empty_session, preview_list(empty_session, extra))
    after = {use.pin_label: use.terminal for use in empty_session.exec(select(PinUse)).all()}
    assert {label: after[label] for label in before} == before
    assert len(after) == len(before) + 4
