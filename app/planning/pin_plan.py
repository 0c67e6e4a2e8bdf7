"""Which terminal sits on which pin: solved and kept when a change is saved, locked by the builder."""

from collections.abc import Sequence
from datetime import UTC, datetime

from sqlmodel import Session, col, delete, select

from app.calculations.pin_contest import pin_contest
from app.calculations.pin_fit import LockRefused, pin_fit
from app.calculations.pin_fit import PinUse as FittedUse
from app.planning.board_pins import function_needs, link_terminals, usable_pins
from app.planning.plan import FunctionRow, Plan, read_plan
from app.tables import Board, PinLeftOut, PinPlan, PinUse


class LockTaken(Exception):
    """The pin asked for cannot be locked; the message says why."""


def solve_pins(session: Session, board_ids: Sequence[int]) -> None:
    """Solve the pins of these boards anew and keep the outcome; the caller commits.

    What is in place stays where it can; what is locked stays. A lock whose terminal is gone is let go.
    """
    session.flush()
    plan = read_plan(session)
    for board_id in dict.fromkeys(board_ids):
        if board_id in plan.boards:
            _solve_board(session, plan, plan.boards[board_id])
    session.flush()


def lock_pins(session: Session, board: Board, pin_labels: Sequence[str]) -> None:
    """Lock just these pins of a board as they are used now (they are soldered), and let the others move."""
    for use in session.exec(select(PinUse).where(PinUse.board_id == board.id)).all():
        use.is_locked = use.pin_label in pin_labels
        session.add(use)
    session.flush()


def place_terminal(session: Session, board: Board, pin_label: str, function_code: str, terminal: str) -> None:
    """Put one terminal of a function on the pin the builder names, lock it there, and solve the rest anew.

    Raises:
        LockTaken: the pin cannot carry that terminal, or another terminal is locked on it.
    """
    plan = read_plan(session)
    functions = {f.code: f for f in plan.functions_by_board.get(board.id or 0, ())}
    uses = plan.pin_uses.get(board.id or 0, ())
    for use in uses:
        if use.pin_label == pin_label and use.is_locked:
            raise LockTaken(f"Pin {pin_label} is locked for {use.terminal}; unlock it first.")
    locked = [fitted for use in uses if (fitted := _fitted(use, plan)) is not None and use.is_locked]
    locked = [use for use in locked if (use.function, use.terminal) != (function_code, terminal)]
    wanted = FittedUse(pin_label, function_code, None, terminal)
    module = plan.modules[board.module_id]
    try:
        fit = pin_fit(
            usable_pins(plan.pins.get(board.module_id, ())),
            function_needs(plan, tuple(functions.values())),
            link_terminals(module),
            locked=[*locked, wanted],
            in_place=[fitted for use in uses if (fitted := _fitted(use, plan)) is not None],
        )
    except LockRefused as error:
        raise LockTaken(str(error)) from error
    _keep(session, board, functions, fit.uses, {use.pin for use in [*locked, wanted]})
    _keep_outcome(session, plan, board, functions, fit.left_out, is_best_found=fit.is_best_found)
    session.flush()


def _solve_board(session: Session, plan: Plan, board: Board) -> None:
    functions = {f.code: f for f in plan.functions_by_board.get(board.id or 0, ())}
    needs = function_needs(plan, tuple(functions.values()))
    link = link_terminals(plan.modules[board.module_id])
    pins = usable_pins(plan.pins.get(board.module_id, ()))
    uses = plan.pin_uses.get(board.id or 0, ())
    locked_labels = {use.pin_label for use in uses if use.is_locked}
    in_place = [fitted for use in uses if (fitted := _fitted(use, plan)) is not None]
    locked = [use for use in in_place if use.pin in locked_labels]
    trouble = ""
    while True:
        try:
            fit = pin_fit(pins, needs, link, locked=locked, in_place=in_place)
            break
        except LockRefused as error:
            gone = [use for use in locked if use in error.uses]
            if not gone:
                raise
            locked = [use for use in locked if use not in gone]
            trouble = ""
    _keep(session, board, functions, fit.uses, {use.pin for use in locked})
    _keep_outcome(
        session, plan, board, functions, fit.left_out, is_best_found=fit.is_best_found, trouble=trouble
    )


def _fitted(use: PinUse, plan: Plan) -> FittedUse | None:
    if use.function_id is None:
        return FittedUse(use.pin_label, None, use.group_name, use.terminal)
    function = plan.functions.get(use.function_id)
    if function is None or function.board_id != use.board_id:
        return None
    return FittedUse(use.pin_label, function.code, None, use.terminal)


def _keep(
    session: Session,
    board: Board,
    functions: dict[str, FunctionRow],
    uses: Sequence[FittedUse],
    locked_labels: set[str],
) -> None:
    session.exec(delete(PinUse).where(col(PinUse.board_id) == board.id))
    session.add_all(
        PinUse(
            board_id=board.id or 0,
            pin_label=use.pin,
            function_id=functions[use.function].id if use.function is not None else None,
            group_name=use.group or "",
            terminal=use.terminal,
            is_locked=use.pin in locked_labels,
        )
        for use in uses
    )


def _keep_outcome(
    session: Session,
    plan: Plan,
    board: Board,
    functions: dict[str, FunctionRow],
    left_out: Sequence[str],
    *,
    is_best_found: bool,
    trouble: str = "",
) -> None:
    contest = None
    if left_out:
        contest = pin_contest(
            usable_pins(plan.pins.get(board.module_id, ())),
            function_needs(plan, tuple(functions.values())),
            link_terminals(plan.modules[board.module_id]),
            [],
        )
    session.exec(delete(PinLeftOut).where(col(PinLeftOut.board_id) == board.id))
    session.exec(delete(PinPlan).where(col(PinPlan.board_id) == board.id))
    session.add(
        PinPlan(
            board_id=board.id or 0,
            is_best_found=is_best_found,
            contest=contest.sentence if contest else "",
            trouble=trouble,
            solved_at=datetime.now(UTC),
        )
    )
    session.add_all(PinLeftOut(board_id=board.id or 0, function_id=functions[key].id) for key in left_out)
