"""Builds one board of a test's own: functions brought in as a builder pastes them, then rows changed by name."""

from collections.abc import Callable
from typing import Any

from sqlmodel import Session, col, select

from app.planning.board_edit import add_board
from app.planning.bring_in import keep_list, preview_list
from app.planning.finding import Finding
from app.planning.plan import Plan, read_plan
from app.tables import Board, Carrier, Component, Function

Check = Callable[[Plan, Board], tuple[Finding, ...]]


def new_board(session: Session, module: str, *rows: str, code: str = "B1", **values: Any) -> Board:
    """A board of this module with functions on it (name, kind, wiring, positions) and values of its own."""
    board = add_board(session, code, module)
    lines = ["panel\tboard\tname\tkind\twiring\tn", *(f"P01\t{code}\t{row}" for row in rows)]
    if rows:
        keep_list(session, preview_list(session, "\n".join(lines)))
    for name, value in values.items():
        setattr(board, name, value)
    session.add(board)
    session.flush()
    return board


def set_functions(session: Session, kind: str, **values: Any) -> list[Function]:
    """Change every function of a kind."""
    functions = list(
        session.exec(select(Function).where(Function.kind == kind).order_by(col(Function.id))).all()
    )
    for function in functions:
        for name, value in values.items():
            setattr(function, name, value)
        session.add(function)
    session.flush()
    return functions


def set_component(session: Session, code: str, **values: Any) -> None:
    """Change a component."""
    _set(session, session.exec(select(Component).where(Component.code == code)).one(), values)


def set_carrier(session: Session, code: str, **values: Any) -> None:
    """Change a carrier."""
    _set(session, session.exec(select(Carrier).where(Carrier.code == code)).one(), values)


def _set(session: Session, row: Any, values: dict[str, Any]) -> None:
    for name, value in values.items():
        setattr(row, name, value)
    session.add(row)
    session.flush()


def found(session: Session, board: Board, check: Check, word: str = "") -> list[Finding]:
    """What a check says of a board, of it the findings whose sentence holds a word."""
    plan = read_plan(session)
    return [f for f in check(plan, plan.boards[board.id or 0]) if word in f.sentence]


def only(session: Session, board: Board, check: Check, word: str = "") -> Finding:
    """The one finding of a check whose sentence holds a word."""
    findings = found(session, board, check, word)
    assert len(findings) == 1, [f.sentence for f in findings]
    return findings[0]
