"""What must be written down of a board. Which entries are required is common practice (needs D5, D6, D9)."""

from sqlmodel import Session, col, select

from app.planning.board_record import record_findings
from app.tables import Board, Function, OutputState
from tests.planning.board_case import found, new_board, only

CASES = ("power_up", "reset", "upload", "signal_loss")


def write_states(session: Session, *, held: bool = True, **states: str) -> None:
    """Every function's output off in all cases, but for what is said."""
    for function in session.exec(select(Function).order_by(col(Function.id))).all():
        values = dict.fromkeys(CASES, "off") | states
        session.add(OutputState(function_id=function.id or 0, is_held_by_hardware=held, **values))
    session.flush()


def bus_board(session: Session, *rows: str, limit: bool | None) -> Board:
    return new_board(session, "T8S", "Display\tdisplay\to64", *rows, has_bus_time_limit=limit)


def test_a_bus_without_a_time_limit_beside_motors_stops(empty_session: Session) -> None:
    board = bus_board(empty_session, "Needle\tneedle\tsvd", limit=False)
    finding = only(empty_session, board, record_findings, "bus of")
    assert finding.verdict == "stop"
    assert "one motor" in finding.sentence
    assert finding.remedies


def test_motors_of_the_panel_count_though_another_board_drives_them(empty_session: Session) -> None:
    board = bus_board(empty_session, limit=False)
    new_board(empty_session, "T8S", "Needle\tneedle\tsvd", code="B2")  # on the same panel
    assert only(empty_session, board, record_findings, "bus of").verdict == "stop"


def test_a_bus_without_a_time_limit_and_without_motors_is_a_caution(empty_session: Session) -> None:
    assert (
        only(empty_session, bus_board(empty_session, limit=False), record_findings, "bus of").verdict
        == "caution"
    )


def test_a_bus_of_which_nothing_is_written_cannot_tell(empty_session: Session) -> None:
    board = bus_board(empty_session, "Needle\tneedle\tsvd", limit=None)
    assert only(empty_session, board, record_findings, "bus of").verdict == "cannot tell"


def test_a_bus_with_a_time_limit_is_fine(empty_session: Session) -> None:
    board = bus_board(empty_session, "Needle\tneedle\tsvd", limit=True)
    assert only(empty_session, board, record_findings, "bus of").verdict == "fine"


def test_a_board_without_a_bus_hears_nothing_of_time_limits(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Needle\tneedle\tsvd", has_bus_time_limit=False)
    assert found(empty_session, board, record_findings, "bus of") == []


def test_motors_without_a_watchdog_stop(empty_session: Session) -> None:
    board = new_board(
        empty_session, "T8S", "Coil\tholding switch\thold", has_watchdog=False, signal_loss_s=2.0
    )
    finding = only(empty_session, board, record_findings, "watchdog")
    assert finding.verdict == "stop"
    assert [about.id for about in finding.about if about.kind == "function"] == ["F001"]


def test_motors_with_watchdog_and_signal_loss_time_are_fine(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Needle\tneedle\tsvd", has_watchdog=True, signal_loss_s=2.0)
    finding = only(empty_session, board, record_findings, "watchdog")
    assert finding.verdict == "fine"
    assert "2 s after the signal is lost" in finding.sentence


def test_motors_of_which_nothing_is_written_cannot_tell_and_name_both(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Needle\tneedle\tsvd")
    finding = only(empty_session, board, record_findings, "drives")
    assert finding.verdict == "cannot tell"
    assert "the signal-loss time, whether the watchdog is on" in finding.sentence


def test_lamps_need_a_signal_loss_time_but_no_watchdog(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Lamp\tlight\tled", has_watchdog=False, signal_loss_s=2.0)
    assert only(empty_session, board, record_findings, "drives").verdict == "fine"


def test_a_board_of_switches_hears_nothing(empty_session: Session) -> None:
    assert found(empty_session, new_board(empty_session, "T8S", "Switch\tswitch\ttg"), record_findings) == []


def test_outputs_without_states_cannot_tell_and_up_to_four_are_named(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", *[f"Lamp {k}\tlight\tled" for k in range(6)])
    finding = only(empty_session, board, record_findings, "not all written")
    assert finding.verdict == "cannot tell"
    assert "6 of B1's 6 outputs" in finding.sentence
    assert "F004 Lamp 3 and 2 more" in finding.sentence
    assert "F005" not in finding.sentence


def test_one_case_left_open_cannot_tell(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Lamp\tlight\tled")
    write_states(empty_session, upload="")
    assert only(empty_session, board, record_findings, "not all written").verdict == "cannot tell"


def test_all_states_written_are_fine(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Lamp\tlight\tled", "Needle\tneedle\tsvd")
    write_states(empty_session)
    finding = only(empty_session, board, record_findings, "four cases")
    assert finding.verdict == "fine"
    assert "1 of them moves, off by hardware" in finding.sentence


def test_a_lamp_may_be_on_at_power_up_and_a_needle_may_not(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Lamp\tlight\tled", "Needle\tneedle\tsvd")
    write_states(empty_session, power_up="on")
    finding = only(empty_session, board, record_findings, "off by hardware")
    assert finding.verdict == "stop"
    assert "F002 Needle not off at power-up" in finding.sentence
    assert [about.id for about in finding.about if about.kind == "function"] == ["F002"]


def test_a_needle_may_stay_as_it_was_when_the_signal_is_lost(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Needle\tneedle\tsvd")
    write_states(empty_session, signal_loss="as it was")
    assert only(empty_session, board, record_findings, "four cases").verdict == "fine"


def test_a_needle_off_by_the_program_only_stops(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Needle\tneedle\tsvd")
    write_states(empty_session, held=False)
    finding = only(empty_session, board, record_findings, "by the program only")
    assert finding.verdict == "stop"
    assert "10 kohm" in finding.remedies[0]
