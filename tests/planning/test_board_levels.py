"""Levels: outputs to parts of another voltage, and the current that keeps contacts clean."""

from sqlmodel import Session, select

from app.planning.board_levels import level_findings
from app.tables import Board, BoardBus, BoardModule
from tests.planning.board_case import found, new_board, only, set_carrier, set_component, set_functions


def set_module(session: Session, code: str, **values: object) -> None:
    module = session.exec(select(BoardModule).where(BoardModule.code == code)).one()
    for name, value in values.items():
        setattr(module, name, value)
    session.add(module)
    session.flush()


# Outputs. 0.7 of the supply is read as high: the data sheets of such pixels and of usual CMOS inputs (from memory);
# supply + 0.3 V is the absolute maximum of most (same; "Settled readings", C9).


def test_outputs_of_three_volts_are_too_low_for_pixels_of_five(empty_session: Session) -> None:
    board = new_board(empty_session, "T32", *[f"Light {k}\tlight\tpx" for k in range(6)])
    finding = only(empty_session, board, level_findings)
    assert finding.verdict == "stop"
    for words in ("3.3 V", "5 V", "3.5 V", "0.2 V too low"):
        assert words in finding.sentence
    assert any("1 channel" in remedy for remedy in finding.remedies)  # one data line serves the chain
    assert any("4.71 V" in remedy for remedy in finding.remedies)  # 3.3 / 0.7


def test_outputs_of_five_volts_drive_pixels_of_five(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Light\tlight\tpx")
    assert only(empty_session, board, level_findings).verdict == "fine"


def test_outputs_of_five_volts_are_too_high_for_a_part_of_three(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Light\tlight\tpx")
    set_component(empty_session, "px", input_supply_v=3.3)
    finding = only(empty_session, board, level_findings)
    assert finding.verdict == "stop"
    assert "1.4 V over what they take" in finding.sentence  # 5 - 3.6


def test_a_pixel_of_unknown_supply_cannot_tell(empty_session: Session) -> None:
    board = new_board(empty_session, "T32", "Light\tlight\tpx")
    set_component(empty_session, "px", input_supply_v=None)
    finding = only(empty_session, board, level_findings)
    assert finding.verdict == "cannot tell"
    assert "the supply of Addressable pixel cell" in finding.sentence
    assert finding.mend_at == "/components/px"


def test_a_module_of_unknown_voltage_cannot_tell(empty_session: Session) -> None:
    board = new_board(empty_session, "T32", "Light\tlight\tpx")
    set_module(empty_session, "T32", logic_v=None)
    finding = only(empty_session, board, level_findings)
    assert finding.verdict == "cannot tell"
    assert "the voltage of" in finding.sentence


def test_a_board_that_drives_and_reads_nothing_of_the_kind_hears_nothing(empty_session: Session) -> None:
    board = new_board(empty_session, "T32", "Lamp\tlight\tled", "Display\tdisplay\to64")
    assert found(empty_session, board, level_findings) == []


def bus_board(session: Session, module: str, supply_v: float | None) -> Board:
    board = new_board(session, module, "Display\tdisplay\to64")
    session.add(BoardBus(board_id=board.id or 0, clock_khz=400, run_m=0.2, supply_v=supply_v))
    session.flush()
    return board


def test_a_bus_pulled_up_to_five_volts_is_too_much_for_a_board_of_three(empty_session: Session) -> None:
    finding = only(empty_session, bus_board(empty_session, "T32", 5.0), level_findings)
    assert finding.verdict == "stop"
    assert "3.6 V at most" in finding.sentence


def test_a_bus_pulled_up_to_three_volts_is_too_little_for_a_board_of_five(empty_session: Session) -> None:
    finding = only(empty_session, bus_board(empty_session, "T8S", 3.3), level_findings)
    assert finding.verdict == "stop"
    assert "0.2 V too low" in finding.sentence


def test_a_bus_that_follows_its_board_hears_nothing(empty_session: Session) -> None:
    assert found(empty_session, bus_board(empty_session, "T32", None), level_findings) == []


# Contacts: Ohm's law. Needs B7: an inside pull-up of 20 to 50 kohm at 5 V gives 0.1 to 0.25 mA, 1 kohm 5 mA.


def test_a_silver_contact_on_an_inside_pull_up_carries_too_little(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Handle\tswitch\ttg")
    set_functions(empty_session, "switch", contact_least_ma=10.0)
    finding = only(empty_session, board, level_findings)
    assert finding.verdict == "caution"
    for words in ("0.143 mA", "35 kohm", "0.1 mA at its weakest, 50 kohm", "10 mA"):
        assert words in finding.sentence
    # 5 V / 10 mA = 500 ohm in all: 505 ohm beside 50 kohm.
    assert any("505 ohm" in remedy for remedy in finding.remedies)


def test_a_contact_on_an_expander_is_read_through_the_expanders_pull_up(empty_session: Session) -> None:
    board = new_board(empty_session, "T32", "Handle\tswitch\tex")
    set_functions(empty_session, "switch", contact_least_ma=10.0)
    finding = only(empty_session, board, level_findings)
    # 3.3 V / 100 kohm = 0.033 mA, / 150 kohm = 0.022 mA.
    assert "0.033 mA" in finding.sentence
    assert "0.022 mA" in finding.sentence


def test_the_verdict_takes_the_weakest_pull_up(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Handle\tswitch\ttg")
    set_functions(empty_session, "switch", contact_least_ma=0.12)  # between 5 / 50 k and 5 / 35 k
    assert only(empty_session, board, level_findings).verdict == "caution"
    set_functions(empty_session, "switch", contact_least_ma=0.1)
    assert only(empty_session, board, level_findings).verdict == "fine"


def test_contacts_alike_share_a_finding(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "One\tswitch\ttg", "Two\tswitch\ttg", "Three\tbutton\tbt")
    set_functions(empty_session, "switch", contact_least_ma=10.0)
    set_functions(empty_session, "button", contact_least_ma=0.01)
    assert [f.verdict for f in found(empty_session, board, level_findings)] == ["caution", "fine"]
    assert "F001 One and F002 Two" in only(empty_session, board, level_findings, "10 mA keeps").sentence


def test_contacts_without_a_least_current_cannot_tell_and_are_named(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", *[f"Switch {k}\tswitch\ttg" for k in range(6)])
    finding = only(empty_session, board, level_findings)
    assert finding.verdict == "cannot tell"
    assert "F004 Switch 3 and 2 more" in finding.sentence


def test_a_carrier_without_a_pull_up_entered_cannot_tell(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Handle\tswitch\tisr")
    set_functions(empty_session, "switch", contact_least_ma=0.01)
    finding = only(empty_session, board, level_findings)
    assert finding.verdict == "cannot tell"
    assert "pull-up" in finding.sentence
    set_carrier(
        empty_session, "input-register", input_pull_up_ohm=10_000.0, input_pull_up_weakest_ohm=10_000.0
    )
    assert only(empty_session, board, level_findings).verdict == "fine"


def test_a_selector_on_a_ladder_has_no_contact_on_a_pull_up(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Selector\tselector\tlad\t6")
    assert found(empty_session, board, level_findings) == []
