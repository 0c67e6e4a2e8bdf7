"""Which terminal sits on which pin: solved and kept when a change is saved, locked by the builder."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlmodel import Session, col, delete, select

from app.calculations.pin_contest import pin_contest
from app.calculations.pin_demand import FunctionNeed, TerminalNeed
from app.calculations.pin_fit import LockRefused, Pin, PinFit, pin_fit
from app.calculations.pin_fit import PinUse as FittedUse
from app.planning.board_pins import function_needs, link_terminals, usable_pins
from app.planning.plan import FunctionRow, Plan, read_plan
from app.tables import Board, PinLeftOut, PinPlan, PinUse

NO_LINK = "the link to the computer finds no pins of its own, so nothing is placed"


class LockTaken(Exception):
    """The pin asked for cannot be locked; the message says why."""


@dataclass(frozen=True, slots=True)
class PlacedTerminal:
    """What came of putting a terminal on a pin: how many others moved, and functions newly left out."""

    moved: int
    left_out: tuple[str, ...]


def solve_pins(session: Session, board_ids: Sequence[int]) -> tuple[str, ...]:
    """Solve the pins of these boards anew and keep the outcome; the caller commits.

    What is in place stays where it can; what is locked stays. A lock that can no longer stand is let go.

    Returns:
        A sentence for each lock let go though its terminal is still on the board.
    """
    session.flush()
    plan = read_plan(session)
    let_go: list[str] = []
    for board_id in dict.fromkeys(board_ids):
        if board_id in plan.boards:
            let_go += _solve_board(session, plan, plan.boards[board_id])
    session.flush()
    return tuple(let_go)


def lock_pins(session: Session, board: Board, pin_labels: Sequence[str]) -> None:
    """Lock just these pins of a board as they are used now (they are soldered), and solve the rest anew.

    A lock taken off may let in what it kept out. The caller commits.
    """
    wanted = set(pin_labels)
    for use in session.exec(select(PinUse).where(PinUse.board_id == board.id)).all():
        use.is_locked = use.pin_label in wanted
        session.add(use)
    solve_pins(session, [board.id or 0])


def place_terminal(
    session: Session, board: Board, pin_label: str, function_code: str, terminal: str, *, group: str = ""
) -> PlacedTerminal:
    """Put one terminal on the pin the builder names, lock it there, and solve the rest anew.

    Without a function code it is a terminal of the shared group named, or of the link to the computer where
    no group is named either. The caller commits.

    Raises:
        LockTaken: the pin cannot carry that terminal, or another terminal is locked on it.
    """
    session.flush()
    plan = read_plan(session)
    functions = _functions_of(plan, board)
    uses = plan.pin_uses.get(board.id or 0, ())
    wanted = FittedUse(pin_label, function_code or None, group or None, terminal)
    locked: list[FittedUse] = []
    in_place: list[FittedUse] = []
    for use in uses:
        fitted = _fitted(use, plan)
        if fitted is None:
            continue
        in_place.append(fitted)
        if not use.is_locked or _same_terminal(fitted, wanted):
            continue
        if use.pin_label == pin_label:
            raise LockTaken(f"Pin {pin_label} is locked for {_words(fitted)}; unlock it first.")
        locked.append(fitted)
    try:
        fit = _fit(plan, board, functions, [*locked, wanted], in_place)
    except LockRefused as error:
        raise LockTaken(str(error)) from error
    before = plan.left_out.get(board.id or 0, frozenset())
    _keep(session, plan, board, functions, fit, [*locked, wanted])
    session.flush()
    return PlacedTerminal(
        moved=fit.moved - any(_same_terminal(use, wanted) and use.pin != pin_label for use in in_place),
        left_out=tuple(code for code in fit.left_out if functions[code].id not in before),
    )


def _solve_board(session: Session, plan: Plan, board: Board) -> list[str]:
    functions = _functions_of(plan, board)
    uses = plan.pin_uses.get(board.id or 0, ())
    locked_labels = {use.pin_label for use in uses if use.is_locked}
    in_place = [fitted for use in uses if (fitted := _fitted(use, plan)) is not None]
    locked = [use for use in in_place if use.pin in locked_labels]
    let_go: list[str] = []
    while True:
        try:
            fit = _fit(plan, board, functions, locked, in_place)
            break
        except LockRefused as error:
            gone = [use for use in locked if use in error.uses]
            if not gone:
                raise
            locked = [use for use in locked if use not in gone]
            if any(use.function is None or use.function in functions for use in gone):
                let_go.append(f"{board.code}: a lock was let go. {error}")
    _keep(session, plan, board, functions, fit, locked)
    return let_go


def _functions_of(plan: Plan, board: Board) -> dict[str, FunctionRow]:
    return {function.code: function for function in plan.functions_by_board.get(board.id or 0, ())}


def _fit(
    plan: Plan,
    board: Board,
    functions: dict[str, FunctionRow],
    locked: Sequence[FittedUse],
    in_place: Sequence[FittedUse],
) -> PinFit:
    return pin_fit(*_asked(plan, board, functions), locked=locked, in_place=in_place)


def _asked(
    plan: Plan, board: Board, functions: dict[str, FunctionRow]
) -> tuple[list[Pin], list[FunctionNeed], tuple[TerminalNeed, ...]]:
    """The board's usable pins, what its functions need of them, and what its link needs.

    Of pins that are alike the first is taken first: those with something to mind (read at start-up, an LED on
    the module) stand last.
    """
    pins = sorted(plan.pins.get(board.module_id, ()), key=lambda pin: bool(pin.condition))
    return (
        usable_pins(pins),
        function_needs(plan, tuple(functions.values())),
        link_terminals(plan.modules[board.module_id]),
    )


def _same_terminal(one: FittedUse, other: FittedUse) -> bool:
    return (one.function or None, one.group or None, one.terminal) == (
        other.function or None,
        other.group or None,
        other.terminal,
    )


def _words(use: FittedUse) -> str:
    return f"{use.function or use.group or 'the link'} {use.terminal}"


def _fitted(use: PinUse, plan: Plan) -> FittedUse | None:
    """The use as the pin fit reads it; None where its function has left the board."""
    if use.function_id is None:
        return FittedUse(use.pin_label, None, use.group_name or None, use.terminal)
    function = plan.functions.get(use.function_id)
    if function is None or function.board_id != use.board_id:
        return None
    return FittedUse(use.pin_label, function.code, None, use.terminal)


def _keep(
    session: Session,
    plan: Plan,
    board: Board,
    functions: dict[str, FunctionRow],
    fit: PinFit,
    locked: Sequence[FittedUse],
) -> None:
    board_id = board.id or 0
    locked_labels = {use.pin for use in locked}
    contest = None
    if fit.left_out or not fit.is_link_placed:
        contest = pin_contest(*_asked(plan, board, functions), locked)
    for table in (PinUse, PinLeftOut, PinPlan):
        session.exec(delete(table).where(col(table.board_id) == board_id))
    session.add_all(
        PinUse(
            board_id=board_id,
            pin_label=use.pin,
            function_id=functions[use.function].id if use.function is not None else None,
            group_name=use.group or "",
            terminal=use.terminal,
            is_locked=use.pin in locked_labels,
        )
        for use in fit.uses
    )
    session.add_all(PinLeftOut(board_id=board_id, function_id=functions[key].id) for key in fit.left_out)
    session.add(
        PinPlan(
            board_id=board_id,
            is_best_found=fit.is_best_found,
            contest=contest.sentence if contest else "",
            trouble="" if fit.is_link_placed else NO_LINK,
            solved_at=datetime.now(UTC),
        )
    )
