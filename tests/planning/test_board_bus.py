"""The two-wire bus of a board: addresses, pull-ups, and how long its displays take to redraw."""

from typing import Any

import pytest
from sqlmodel import Session

from app.planning.board_bus import BoardBusResult, board_bus
from app.planning.finding import Finding
from app.planning.plan import read_plan
from app.tables import Board, BoardBus, BusStrap
from tests.planning.board_case import new_board, set_component


def displays(session: Session, number: int, wiring: str = "o64", module: str = "T32") -> Board:
    return new_board(session, module, *[f"Display {k}\tdisplay\t{wiring}" for k in range(number)])


def wire(session: Session, board: Board, **figures: Any) -> None:
    session.add(BoardBus(board_id=board.id or 0, **figures))
    session.flush()


def bus_of(session: Session, board: Board) -> BoardBusResult:
    plan = read_plan(session)
    return board_bus(plan, plan.boards[board.id or 0])


def address_finding(session: Session, board: Board) -> Finding:
    return bus_of(session, board).findings[0]


def pull_up_finding(session: Session, board: Board) -> Finding:
    return bus_of(session, board).findings[1]


# Addresses. values.md S5.9: a display of this kind can have 0x3C or 0x3D, so a bus carries two at most.


def test_two_displays_can_have_an_address_each(empty_session: Session) -> None:
    finding = address_finding(empty_session, displays(empty_session, 2))
    assert finding.verdict == "fine"
    assert "0x3C" in finding.sentence
    assert "0x3D" in finding.sentence


def test_a_third_display_clashes_and_another_bus_or_a_switch_mends_it(empty_session: Session) -> None:
    finding = address_finding(empty_session, displays(empty_session, 3))
    assert finding.verdict == "stop"
    assert "3 devices" in finding.sentence
    assert "two addresses (0x3C, 0x3D)" in finding.sentence
    assert [about.id for about in finding.about if about.kind == "function"] == ["F001", "F002", "F003"]
    assert any("2 buses" in remedy for remedy in finding.remedies)
    assert any("bus switch at 0x70" in remedy for remedy in finding.remedies)


def test_two_displays_strapped_alike_clash_and_the_strap_to_change_is_named(empty_session: Session) -> None:
    board = displays(empty_session, 2)
    for code in ("F001", "F002"):
        empty_session.add(BusStrap(board_id=board.id or 0, device=code, address=0x3C))
    empty_session.flush()
    finding = address_finding(empty_session, board)
    assert finding.verdict == "stop"
    assert any("0x3D" in remedy for remedy in finding.remedies)


def test_parts_on_one_carrier_are_one_device(empty_session: Session) -> None:
    board = new_board(empty_session, "T32", *[f"Servo {k}\tneedle\tsve" for k in range(4)])
    bus = bus_of(empty_session, board)
    assert [device.key for device in bus.devices] == ["servo-expander 1"]


def test_a_seventeenth_contact_takes_a_second_expander(empty_session: Session) -> None:
    # 16 places a card (scenario section 4).
    board = new_board(empty_session, "T32", *[f"Switch {k}\tswitch\tex" for k in range(17)])
    assert [device.key for device in bus_of(empty_session, board).devices] == [
        "io-expander 1",
        "io-expander 2",
    ]


def test_a_device_of_unknown_address_cannot_tell(empty_session: Session) -> None:
    board = displays(empty_session, 1)
    set_component(empty_session, "o64", addresses="")
    finding = address_finding(empty_session, board)
    assert finding.verdict == "cannot tell"
    assert "F001" in finding.sentence


# values.md S5.8: 0x00 to 0x07 and 0x78 to 0x7F are reserved.
def test_a_reserved_address_stops(empty_session: Session) -> None:
    board = displays(empty_session, 1)
    set_component(empty_session, "o64", addresses="0x78")
    assert address_finding(empty_session, board).verdict == "stop"


def test_a_board_without_bus_devices_has_no_findings(empty_session: Session) -> None:
    assert bus_of(empty_session, new_board(empty_session, "T32", "Lamp\tlight\tled")).findings == ()


# Pull-ups. Rmax = rise time / (0.8473 C), Rmin = (V - 0.4 V) / 3 mA (UM10204 7.1; values.md S5.1, S5.2).


def test_a_long_bus_at_400_khz_has_too_weak_pull_ups_and_holds_at_100(empty_session: Session) -> None:
    # 2.4 m and three devices: 240 + 30 + the board's 10 = 280 pF; 300 ns / (0.8473 x 280 pF) = 1.26 kohm, 1,000 ns
    # 4.22 kohm; three of 10 kohm are 3.33 kohm.
    board = new_board(
        empty_session, "T32", "Servo\tneedle\tsve", *[f"Switch {k}\tswitch\tex" for k in range(17)]
    )
    wire(empty_session, board, clock_khz=400, run_m=2.4, pull_up_ohm_each=10_000)
    finding = pull_up_finding(empty_session, board)
    assert finding.verdict == "stop"
    for figure in ("280 pF", "3.33 kohm", "1.26 kohm", "too weak", "100 kHz", "4.22 kohm"):
        assert figure in finding.sentence


def test_five_modules_of_4700_ohm_are_too_strong_at_five_volts(empty_session: Session) -> None:
    # Needs C7: five of 4.7 kohm are 0.94 kohm, under 1.53 kohm (values.md S5.3).
    board = displays(empty_session, 5, module="T8S")
    wire(empty_session, board, clock_khz=100, run_m=0.2, pull_up_ohm_each=4_700)
    finding = pull_up_finding(empty_session, board)
    assert finding.verdict == "stop"
    for figure in ("0.94 kohm", "1.53 kohm", "too strong"):
        assert figure in finding.sentence
    assert any("off" in remedy for remedy in finding.remedies)


def test_the_voltage_of_the_bus_goes_before_that_of_the_board(empty_session: Session) -> None:
    # Rmin 0.97 kohm at 3.3 V (values.md S5.2), 1.53 at 5 V.
    board = displays(empty_session, 1, module="T8S")
    wire(empty_session, board, clock_khz=100, run_m=0.2, pull_up_ohm_each=4_700, supply_v=3.3)
    assert "0.97 kohm" in pull_up_finding(empty_session, board).sentence


@pytest.mark.parametrize(
    ("left_out", "word"), [("clock_khz", "clock"), ("run_m", "run"), ("pull_up_ohm_each", "pull-up")]
)
def test_a_bus_with_a_figure_missing_cannot_tell_and_names_it(
    empty_session: Session, left_out: str, word: str
) -> None:
    board = displays(empty_session, 1)
    figures: dict[str, Any] = {"clock_khz": 400, "run_m": 0.2, "pull_up_ohm_each": 4_700}
    figures[left_out] = None
    wire(empty_session, board, **figures)
    finding = pull_up_finding(empty_session, board)
    assert finding.verdict == "cannot tell"
    assert word in finding.sentence


def test_a_bus_of_which_nothing_is_entered_cannot_tell(empty_session: Session) -> None:
    finding = pull_up_finding(empty_session, displays(empty_session, 1))
    assert finding.verdict == "cannot tell"
    assert finding.source_mark is None


# Redraws. values.md S5.13: 1,024 bytes in pieces of 16 at 400 kHz: 25.92 ms, 38.58 a second.


def test_a_display_is_redrawn_in_the_time_of_its_pieces(empty_session: Session) -> None:
    board = displays(empty_session, 1)
    wire(empty_session, board, clock_khz=400, run_m=0.2, pull_up_ohm_each=4_700)
    bus = bus_of(empty_session, board)
    assert bus.redraw_ms == pytest.approx(25.92, abs=0.005)
    assert bus.frames_per_s == pytest.approx(38.58, abs=0.005)


def test_displays_that_share_a_bus_share_its_frames(empty_session: Session) -> None:
    board = displays(empty_session, 2)
    wire(empty_session, board, clock_khz=400, run_m=0.2, pull_up_ohm_each=4_700)
    bus = bus_of(empty_session, board)
    assert bus.redraw_ms == pytest.approx(51.84, abs=0.005)
    assert bus.frames_per_s == pytest.approx(19.29, abs=0.005)


def test_without_a_clock_no_redraw_is_known(empty_session: Session) -> None:
    bus = bus_of(empty_session, displays(empty_session, 1))
    assert (bus.redraws, bus.frames_per_s) == ((), None)
