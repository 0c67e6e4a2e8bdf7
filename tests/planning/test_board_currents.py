"""Currents through a board's pins against the limits of its chip.

Limits of the ATmega328P (values.md S6.15 to S6.18): 40 mA a pin absolute, 20 mA where its level is tested at 5 V,
100 mA sunk by each of three groups of pins, 150 mA sourced by each of two, 200 mA in all. Of the RP2040 (S6.19):
12 mA at the strongest drive setting, 50 mA sourced and 50 mA sunk in all.
"""

import pytest
from sqlmodel import Session, col, delete

from app.planning.board_currents import current_findings
from app.planning.pin_plan import place_terminal
from app.tables import Board, ModuleLimit
from tests.planning.board_case import found, new_board, only, set_component


def lamp_board(
    session: Session, module: str, pins: list[str], drive_ma: float | None, drive_is: str
) -> Board:
    """A board with one directly driven lamp on each of these pins."""
    board = new_board(session, module, *[f"Lamp {k}\tlight\tled" for k in range(len(pins))])
    set_component(session, "led", drive_ma=drive_ma, drive_is=drive_is)
    for k, pin in enumerate(pins, start=1):
        place_terminal(session, board, pin, f"F{k:03}", "anode")
    session.flush()
    return board


# D5 to D7 and D8 to D13 are PD5-7 and PB0-5, one group.
FIVE_OF_A_GROUP = ["D5", "D6", "D7", "D8", "D9"]


def test_five_lamps_of_twenty_milliamps_reach_a_groups_limit_and_are_within_it(
    empty_session: Session,
) -> None:
    board = lamp_board(empty_session, "T8S", FIVE_OF_A_GROUP, 20, "sink")
    finding = only(empty_session, board, current_findings)
    assert finding.verdict == "fine"
    assert "100 %" in finding.sentence


def test_a_sixth_lamp_on_the_group_stops(empty_session: Session) -> None:
    board = lamp_board(empty_session, "T8S", [*FIVE_OF_A_GROUP, "D10"], 20, "sink")
    finding = only(empty_session, board, current_findings)
    assert finding.verdict == "stop"
    assert "120 mA sunk" in finding.sentence
    assert "120 % of 100 mA" in finding.sentence
    assert any("Move 1 of its 6 currents" in remedy for remedy in finding.remedies)
    assert [about.id for about in finding.about if about.kind == "function"] == [
        f"F{k:03}" for k in range(1, 7)
    ]


def test_a_sixth_lamp_on_another_group_is_fine(empty_session: Session) -> None:
    board = lamp_board(empty_session, "T8S", [*FIVE_OF_A_GROUP, "D4"], 20, "sink")
    assert only(empty_session, board, current_findings).verdict == "fine"


def test_the_same_six_lamps_sourced_are_within_the_groups_other_limit(empty_session: Session) -> None:
    board = lamp_board(empty_session, "T8S", [*FIVE_OF_A_GROUP, "D10"], 20, "source")
    assert only(empty_session, board, current_findings).verdict == "fine"


@pytest.mark.parametrize(
    ("drive_ma", "verdict"), [(20, "fine"), (21, "caution"), (40, "caution"), (41, "stop")]
)
def test_a_pin_over_its_test_point_is_a_caution_and_over_its_maximum_a_stop(
    empty_session: Session, drive_ma: float, verdict: str
) -> None:
    board = lamp_board(empty_session, "T8S", ["D5"], drive_ma, "sink")
    assert only(empty_session, board, current_findings).verdict == verdict


@pytest.mark.parametrize(
    ("lamps", "drive_ma", "verdict"), [(5, 10, "fine"), (6, 10, "stop"), (1, 13, "caution")]
)
def test_the_pins_of_the_small_32_bit_chip_source_fifty_milliamps_in_all(
    empty_session: Session, lamps: int, drive_ma: float, verdict: str
) -> None:
    board = lamp_board(empty_session, "T32", [f"GP{k}" for k in range(2, 2 + lamps)], drive_ma, "source")
    assert only(empty_session, board, current_findings).verdict == verdict


def test_a_coil_between_two_pins_counts_once_in_a_sum(empty_session: Session) -> None:
    # 5 V through 280 ohm is 17.9 mA (scenario section 10); two coils are 35.8 mA of the chip's 200.
    board = new_board(empty_session, "T8S", "Needle\tneedle\tgs4")
    finding = only(empty_session, board, current_findings)
    assert finding.verdict == "fine"
    assert "17.9 mA" in finding.sentence
    assert "35.8 mA of 200 mA" in finding.sentence


def test_twelve_coils_are_more_than_the_chip_may_carry(empty_session: Session) -> None:
    # 12 x 17.9 = 214.8 mA of 200 mA (S6.15).
    board = new_board(empty_session, "T8L", *[f"Needle {k}\tneedle\tgs4" for k in range(6)])
    finding = only(empty_session, board, current_findings)
    assert finding.verdict == "stop"
    assert "214.8 mA" in finding.sentence


def test_a_lamp_of_unknown_current_cannot_tell(empty_session: Session) -> None:
    board = lamp_board(empty_session, "T8S", ["D5"], None, "source")
    finding = only(empty_session, board, current_findings)
    assert finding.verdict == "cannot tell"
    assert "the current of LED cell, direct" in finding.sentence


def test_a_lamp_that_found_no_pin_cannot_tell(empty_session: Session) -> None:
    # 18 lamps and the link fill 20 pins; the nineteenth is left out.
    board = new_board(empty_session, "T8S", *[f"Lamp {k}\tlight\tled" for k in range(19)])
    set_component(empty_session, "led", drive_ma=2.0)
    finding = only(empty_session, board, current_findings)
    assert finding.verdict == "cannot tell"
    assert "pins for F019 Lamp 18" in finding.sentence


def test_a_module_without_limits_cannot_tell(empty_session: Session) -> None:
    board = lamp_board(empty_session, "T8S", ["D5"], 15, "source")
    empty_session.exec(delete(ModuleLimit).where(col(ModuleLimit.module_id) == board.module_id))
    finding = only(empty_session, board, current_findings)
    assert finding.verdict == "cannot tell"
    assert "current limits" in finding.sentence


def test_a_board_whose_parts_sit_on_drivers_hears_nothing(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Lamp\tlight\tsr", "Needle\tneedle\tgsd", "Servo\tneedle\tsvd")
    assert found(empty_session, board, current_findings) == []
