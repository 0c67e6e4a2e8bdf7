"""Remedies over the demo cockpit: shown, tried on paper, taken, and the finding then gone."""

from time import perf_counter

import pytest
from sqlmodel import Session, select

from app.planning.board_edit import add_board, put_functions_on_board
from app.planning.board_remedies import (
    UnknownRemedy,
    board_remedies,
    take_remedies,
    try_remedies,
)
from app.planning.bring_in import keep_list, preview_list
from app.planning.cockpit_result import CockpitResult, compute_cockpit
from app.planning.pin_plan import lock_pins
from app.planning.plan import read_plan
from app.tables import Board, Candidate, Component, Function, PinUse


def board_of(session: Session, code: str) -> Board:
    return session.exec(select(Board).where(Board.code == code)).one()


def chosen(session: Session, function_code: str) -> tuple[str, str]:
    """Code of the component chosen for a function, and the reason."""
    return session.exec(
        select(Component.code, Candidate.reason)
        .join(Candidate, Candidate.component_id == Component.id)  # type: ignore[arg-type]  # columns compared
        .join(Function, Function.id == Candidate.function_id)  # type: ignore[arg-type]  # columns compared
        .where(Function.code == function_code, Candidate.state == "chosen")
    ).one()


def test_the_fuel_panel_is_offered_gauge_driver_and_ladder_and_three_more_with_a_price(
    demo_result: CockpitResult,
) -> None:
    rows = {row.code: row for row in board_remedies(demo_result.plan, demo_result.boards["BD06"].board)}
    # Scenario section 9, fault 1: "gauge driver (12 -> 7) and ladder (4 -> 1): 16 needed, 4 left (20 %)".
    pair = rows["gauge-driver~ladder"]
    assert "needs 16 of 20 pins" in pair.sentence
    assert "4 left (20 %)" in pair.sentence
    assert {change.function for change in pair.changes} == {"F083", "F084", "F085", "F086"}
    # One carrier for four gauges at 5.0; the steppers and the selector cost what they did.
    assert pair.cost == 5.0
    others = [row for code, row in rows.items() if code != pair.code and row.makes_all_fit and row.cost > 0]
    assert len(others) >= 3


def test_the_whole_table_takes_no_longer_than_three_seconds(demo_result: CockpitResult) -> None:
    start = perf_counter()
    rows = list(try_again(demo_result))
    # Trials: "whole table of remedies <= 3 s"; tests/bench measures it closely.
    assert perf_counter() - start < 3
    assert len(rows) > 10


def try_again(result: CockpitResult) -> list[str]:
    return [row.code for row in board_remedies(result.plan, result.boards["BD06"].board)]


@pytest.mark.parametrize(
    ("code", "pins"),
    [
        # Column "Total" of scenario section 2.
        ("BD01", 39),
        ("BD02", 18),
        ("BD03", 5),
        ("BD04", 11),
        ("BD05", 28),
        ("BD07", 8),
        ("BD08", 17),
        ("BD09", 14),
        ("BD10", 17),
        ("BD11", 12),
        ("BD12", 6),
    ],
)
def test_a_board_as_it_stands_needs_the_pins_of_the_scenario(
    demo_result: CockpitResult, code: str, pins: int
) -> None:
    row = try_remedies(demo_result.plan, demo_result.boards[code].board, [])
    assert (row.pins_before, row.pins_needed) == (pins, pins)
    assert row.left_out == ()


def test_memory_before_is_the_one_that_the_board_sheet_shows(demo_result: CockpitResult) -> None:
    for code, result in demo_result.boards.items():
        row = try_remedies(demo_result.plan, result.board, [])
        shown = result.memory.estimate.static_share
        assert row.memory_share is not None, code
        assert shown is not None, code
        # A byte for each eight places of registers, expanders and matrix comes on top.
        assert 0 <= (row.memory_share - shown) * (result.module.memory_bytes or 0) <= 4.001, code


def test_taking_the_pair_changes_the_plan_and_the_finding_goes(demo_session: Session) -> None:
    board = board_of(demo_session, "BD06")
    before = compute_cockpit(demo_session).boards["BD06"].pins.finding
    assert before.verdict == "stop"
    row = take_remedies(demo_session, board_of(demo_session, board.code), ["gauge-driver", "ladder"])
    for function in ("F083", "F084", "F085"):
        component, reason = chosen(demo_session, function)
        assert component == "gsd"
        assert "from 24 to 16 of 20" in reason
    assert chosen(demo_session, "F086")[0] == "lad"
    assert chosen(demo_session, "F087")[0] == "tg"
    after = compute_cockpit(demo_session).boards["BD06"].pins
    assert (after.demand.total, after.left, after.finding.verdict) == (16, 4, "fine")
    assert after.left_out == ()
    assert row.code == "gauge-driver~ladder"


def test_what_was_chosen_before_is_kept_as_rejected(demo_session: Session) -> None:
    take_remedies(demo_session, board_of(demo_session, "BD06"), ["ladder"])
    rejected = demo_session.exec(
        select(Component.code, Candidate.reason)
        .join(Candidate, Candidate.component_id == Component.id)  # type: ignore[arg-type]  # columns compared
        .join(Function, Function.id == Candidate.function_id)  # type: ignore[arg-type]  # columns compared
        .where(Function.code == "F086", Candidate.state == "rejected")
    ).all()
    assert "rot" in {code for code, _ in rejected}
    assert all(reason for _, reason in rejected)


def test_trying_writes_nothing(demo_session: Session) -> None:
    plan = read_plan(demo_session)
    board = board_of(demo_session, "BD06")
    try_remedies(plan, board, ["gauge-driver", "second-board"])
    list(board_remedies(plan, board))
    assert not demo_session.new
    assert not demo_session.dirty
    assert chosen(demo_session, "F083")[0] == "gs4"


@pytest.mark.parametrize("code", ["move-BD08", "second-board", "larger-T8L"])
def test_taking_a_row_gives_the_pins_that_it_promised(demo_session: Session, code: str) -> None:
    boards_before = {board.code for board in demo_session.exec(select(Board)).all()}
    row = take_remedies(demo_session, board_of(demo_session, "BD06"), [code])
    result = compute_cockpit(demo_session)
    pins = result.boards["BD06"].pins
    assert (pins.demand.total, pins.usable, pins.left_out) == (row.pins_needed, row.usable, ())
    assert pins.finding.verdict == "fine"
    if row.target is not None:
        new = set(result.boards) - boards_before
        target = result.boards[row.target.board or new.pop()]
        assert (target.pins.demand.total, target.pins.usable) == (row.target.needed, row.target.usable)
        assert target.pins.left_out == ()
        assert not new


def test_a_row_with_moves_and_changes_is_taken_whole(demo_session: Session) -> None:
    row = take_remedies(demo_session, board_of(demo_session, "BD06"), ["ladder", "second-board"])
    assert {change.to_code for change in row.changes} == {"lad"}
    assert row.moves
    pins = compute_cockpit(demo_session).boards["BD06"].pins
    assert pins.demand.total == row.pins_needed


def test_full_memory_is_relieved_by_moving_one_display(demo_session: Session) -> None:
    # Scenario section 9, fault 2: two buffers of 1024 in 2048 bytes.
    rows = {row.code: row for row in board_remedies(read_plan(demo_session), board_of(demo_session, "BD04"))}
    move = next(row for code, row in rows.items() if code.startswith("move-"))
    assert len(move.moves) == 1
    assert move.memory_added_bytes == -1024
    take_remedies(demo_session, board_of(demo_session, "BD04"), [move.code])
    memory = compute_cockpit(demo_session).boards["BD04"].memory
    assert memory.estimate.verdict != "stop"


def test_a_soldered_lead_stays_on_its_pin_when_a_remedy_is_taken(demo_session: Session) -> None:
    board = board_of(demo_session, "BD06")
    lamp = demo_session.exec(select(Function).where(Function.code == "F089")).one()
    use = demo_session.exec(
        select(PinUse).where(PinUse.board_id == board.id, PinUse.function_id == lamp.id)
    ).one()
    label = use.pin_label
    lock_pins(demo_session, board, [label])
    row = take_remedies(demo_session, board, ["gauge-driver", "ladder"])
    assert row.locks_let_go == 0
    kept = demo_session.exec(
        select(PinUse).where(PinUse.board_id == board.id, PinUse.function_id == lamp.id)
    ).one()
    assert (kept.pin_label, kept.is_locked) == (label, True)


def test_an_unknown_remedy_is_refused_and_changes_nothing(demo_session: Session) -> None:
    with pytest.raises(UnknownRemedy):
        take_remedies(demo_session, board_of(demo_session, "BD06"), ["ladder", "bigger-hammer"])
    assert chosen(demo_session, "F086")[0] == "rot"


def test_a_cancelled_table_stops_and_is_not_taken_for_the_whole(demo_session: Session) -> None:
    put_functions_on_board(demo_session, [], None)
    plan = read_plan(demo_session)
    board = board_of(demo_session, "BD06").model_copy(update={"baud": 19_200})  # not asked before
    assert list(board_remedies(plan, board, cancelled=lambda: True)) == []
    whole = [row.code for row in board_remedies(plan, board)]
    assert whole[-1] == "second-board"
    start = perf_counter()
    assert [row.code for row in board_remedies(plan, board)] == whole
    assert perf_counter() - start < 0.2


def test_a_table_left_half_way_is_solved_anew(demo_session: Session) -> None:
    plan = read_plan(demo_session)
    board = board_of(demo_session, "BD06").model_copy(update={"baud": 9_600})
    rows = board_remedies(plan, board)
    first = next(rows)
    rows.close()  # type: ignore[attr-defined]  # a generator
    assert next(row.code for row in board_remedies(plan, board)) == first.code
    assert len(list(board_remedies(plan, board))) > 10


def test_a_board_without_functions_or_components_is_answered_all_the_same(empty_session: Session) -> None:
    board = add_board(empty_session, "B1", "T8S")
    rows = list(board_remedies(read_plan(empty_session), board))
    assert {row.verdict for row in rows} == {"does not apply"}
    keep_list(empty_session, preview_list(empty_session, "panel\tboard\tname\tkind\nP01\tB1\tLamp\tlight"))
    row = try_remedies(read_plan(empty_session), board_of(empty_session, "B1"), ["larger-T8L"])
    assert row.makes_all_fit is None
    assert row.verdict == "cannot tell"
