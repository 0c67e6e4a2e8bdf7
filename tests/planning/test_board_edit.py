"""Adding boards, moving functions between them, taking them away."""

import pytest
from sqlmodel import Session, select

from app.planning.board_edit import (
    BoardInUse,
    BootLoaderTooLarge,
    UnknownModule,
    add_board,
    change_board,
    delete_board,
    put_functions_on_board,
)
from app.planning.bring_in import keep_list, preview_list
from app.planning.edit import CodeTaken, EditedMeanwhile
from app.tables import Board, BoardModule, Function, PinPlan, PinUse


def two_lamps(session: Session) -> list[int]:
    keep_list(
        session,
        preview_list(session, "panel\tname\tkind\twiring\nP01\tOil lamp\tlight\tled\nP01\tFuel\tlight\tled"),
    )
    return [function.id or 0 for function in session.exec(select(Function).order_by(Function.code)).all()]


def pin_count(session: Session, board: Board) -> int:
    return len(session.exec(select(PinUse).where(PinUse.board_id == board.id)).all())


def test_a_new_board_has_its_link_placed_at_once(empty_session: Session) -> None:
    board = add_board(empty_session, "BD01", "T8S")
    assert pin_count(empty_session, board) == 2  # receive and send through the port chip
    assert empty_session.exec(select(PinPlan).where(PinPlan.board_id == board.id)).one()


def test_an_id_is_taken_whatever_its_case(empty_session: Session) -> None:
    add_board(empty_session, "BD01", "T8S")
    with pytest.raises(CodeTaken):
        add_board(empty_session, "bd01", "T8S")


def test_a_module_that_is_not_there_is_refused(empty_session: Session) -> None:
    with pytest.raises(UnknownModule, match="T99"):
        add_board(empty_session, "BD01", "T99")


def test_a_boot_loader_that_fills_the_program_space_is_refused(empty_session: Session) -> None:
    # ATmega328P: 32,768 bytes of program space (avr-libc's header iom328p.h: FLASHEND 0x7FFF).
    with pytest.raises(BootLoaderTooLarge, match="32,768"):
        add_board(empty_session, "BD01", "T8S", boot_loader_bytes=32_768)


def test_functions_move_from_board_to_board_and_both_are_solved(empty_session: Session) -> None:
    ids = two_lamps(empty_session)
    first, second = add_board(empty_session, "BD01", "T8S"), add_board(empty_session, "BD02", "T8S")
    assert put_functions_on_board(empty_session, ids, first.id) == 2
    assert (pin_count(empty_session, first), pin_count(empty_session, second)) == (4, 2)
    assert put_functions_on_board(empty_session, ids[:1], second.id) == 1
    assert (pin_count(empty_session, first), pin_count(empty_session, second)) == (3, 3)
    assert put_functions_on_board(empty_session, ids, None) == 2
    assert (pin_count(empty_session, first), pin_count(empty_session, second)) == (2, 2)


def test_a_function_already_there_or_unknown_does_not_count_as_moved(empty_session: Session) -> None:
    ids = two_lamps(empty_session)
    board = add_board(empty_session, "BD01", "T8S")
    put_functions_on_board(empty_session, ids, board.id)
    assert put_functions_on_board(empty_session, [*ids, 9999], board.id) == 0
    assert put_functions_on_board(empty_session, [], board.id) == 0


def test_another_module_solves_the_pins_anew(empty_session: Session) -> None:
    ids = two_lamps(empty_session)
    board = add_board(empty_session, "BD01", "T8S")
    put_functions_on_board(empty_session, ids, board.id)
    module = empty_session.exec(select(BoardModule).where(BoardModule.code == "T32")).one()
    change_board(empty_session, board, 1, {"module_id": module.id})
    labels = empty_session.exec(select(PinUse.pin_label).where(PinUse.board_id == board.id)).all()
    # The RP2040 module has its port inside: only the two lamps take pins.
    assert len(labels) == 2
    assert all(label.startswith("GP") for label in labels)


def test_an_older_version_is_refused(empty_session: Session) -> None:
    board = add_board(empty_session, "BD01", "T8S")
    change_board(empty_session, board, 1, {"name": "Fuel"})
    with pytest.raises(EditedMeanwhile):
        change_board(empty_session, board, 1, {"name": "Water"})


def test_a_board_goes_only_when_it_holds_nothing(empty_session: Session) -> None:
    ids = two_lamps(empty_session)
    board = add_board(empty_session, "BD01", "T8S")
    put_functions_on_board(empty_session, ids, board.id)
    with pytest.raises(BoardInUse, match="2 functions"):
        delete_board(empty_session, board)
    put_functions_on_board(empty_session, ids, None)
    delete_board(empty_session, board)
    assert empty_session.exec(select(Board)).all() == []
    assert empty_session.exec(select(PinUse)).all() == []
