"""The boards: the list, and the sheet of one with its pins, its functions, its memory and its firmware."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session, select
from starlette.exceptions import HTTPException

from app.pages.board_drawing import draw_module
from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import Typed, TypedForm
from app.planning.board_sheet import board_lines, board_sheet, panels_for_board
from app.planning.cockpit_result import BoardResult, CockpitResult
from app.planning.finding import findings_about
from app.planning.pin_plan import LockTaken, lock_pins, place_terminal
from app.tables import Board

router = APIRouter()


@router.get("/boards")
def show_boards(request: Request) -> Response:
    """The list of boards with their budgets."""
    return render(request, "boards.html", boards=board_lines(cockpit_result(request)))


@router.get("/boards/{code}")
def show_board(request: Request, code: str) -> Response:
    """The sheet of one board."""
    return board_page(request, code, Typed())


@router.post("/boards/{code}/locks")
def save_locks(request: Request, code: str, typed: TypedForm) -> Response:
    """Lock the pins ticked as they are used now, and no others."""
    result = cockpit_result(request)
    if typed.value("seen") != solved_at(result, board_of(result, code)):
        typed.refuse("locks", "The pins were solved anew in another tab. Look at them, then tick again.")
        return board_page(request, code, typed, status=409)
    with session_of(request) as session:
        lock_pins(session, board_row(session, code), typed.lists.get("lock", []))
        session.commit()
    number = len(typed.lists.get("lock", []))
    return go_to(f"/boards/{code}", f"{number} {'pin is' if number == 1 else 'pins are'} locked.")


@router.post("/boards/{code}/place")
def save_place(request: Request, code: str, typed: TypedForm) -> Response:
    """Put one terminal on the pin named and lock it there."""
    result = cockpit_result(request)
    sheet = board_sheet(result.plan, board_of(result, code))
    terminals = {choice.value: choice for choice in sheet.terminals}
    labels = [line.pin.label for line in sheet.pins if line.is_usable]
    chosen = terminals.get(typed.choice("terminal", "Terminal", terminals, required=True))
    label = typed.choice("pin_label", "Pin", labels, required=True)
    if not typed.is_fine or chosen is None:
        return board_page(request, code, typed, status=422)
    with session_of(request) as session:
        board = board_row(session, code)
        try:
            placed = place_terminal(
                session, board, label, chosen.function_code, chosen.terminal, group=chosen.group
            )
        except LockTaken as error:
            typed.refuse("pin_label", str(error))
            return board_page(request, code, typed, status=422)
        session.commit()
    notice = (
        f"{chosen.function_code or chosen.group or 'link'} {chosen.terminal} is on {label} and locked there."
    )
    if placed.moved:
        notice += f" {placed.moved} other {'terminal' if placed.moved == 1 else 'terminals'} moved."
    if placed.left_out:
        notice += f" Now without a place: {', '.join(placed.left_out)}."
    return go_to(f"/boards/{code}", notice)


def board_page(request: Request, code: str, form: Typed, status: int = 200) -> Response:
    """The sheet of one board, with what was typed into one of its forms."""
    result = cockpit_result(request)
    board = board_of(result, code)
    sheet = board_sheet(result.plan, board)
    return render(
        request,
        "board.html",
        status=status,
        code=code,
        result=board,
        sheet=sheet,
        form=form,
        panels=[result.plan.panels[id_] for id_ in panel_ids(result, board)],
        drawing=draw_module(f"{code}, {board.module.name}", board.module, sheet.pins),
        found=findings_about(result.findings, "board", code),
        seen=solved_at(result, board),
        to_add=[p for p in panels_for_board(result.plan, board.board.id or 0) if p.on_none],
    )


def board_of(result: CockpitResult, code: str) -> BoardResult:
    """A board by the builder's id, or the sheet that says there is none."""
    board = result.boards.get(code)
    if board is None:
        raise HTTPException(404, f"There is no board {code[:40]} in this cockpit.")
    return board


def board_row(session: Session, code: str) -> Board:
    """The row of a board by the builder's id, or the sheet that says there is none."""
    board = session.exec(select(Board).where(Board.code == code)).first()
    if board is None:
        raise HTTPException(404, f"There is no board {code[:40]} in this cockpit.")
    return board


def panel_ids(result: CockpitResult, board: BoardResult) -> list[int]:
    """The panels that a board serves, in order."""
    functions = result.plan.functions_by_board.get(board.board.id or 0, ())
    return list(dict.fromkeys(function.panel_id for function in functions))


def solved_at(result: CockpitResult, board: BoardResult) -> str:
    """When the pins were last solved: a form shows which state it was opened on."""
    plan: Any = result.plan.pin_plans.get(board.board.id or 0)
    return plan.solved_at.isoformat() if plan is not None else ""
