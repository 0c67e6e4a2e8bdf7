"""Rows that tests of the boards' sheets begin with."""

from sqlmodel import Session, select

from app.planning.board_edit import add_board, put_functions_on_board
from app.planning.bring_in import keep_list, preview_list
from app.tables import Board, Function


def bring_in(session: Session, *rows: str) -> None:
    """Functions of panel P01: name, kind, wiring and, for a selector, positions, with tabs between."""
    lines = ["panel\tid\tname\tkind\twiring\tn"]
    lines += [f"P01\tF{number:03d}\t{row}" for number, row in enumerate(rows, 1)]
    keep_list(session, preview_list(session, "\n".join(lines)))
    session.commit()


def board_with(session: Session, *rows: str, code: str = "BD01", module: str = "T8S") -> Board:
    """A board with these functions on it."""
    board = add_board(session, code, module)
    bring_in(session, *rows)
    put_functions_on_board(session, [f.id or 0 for f in session.exec(select(Function)).all()], board.id)
    session.commit()
    return board
