"""Putting functions on a board, whole panels at once or single ones, and taking them off."""

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session, col, select

from app.pages.boards import board_of, board_page, board_row
from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import Typed, TypedForm
from app.planning.board_edit import put_functions_on_board
from app.planning.board_sheet import panels_for_board
from app.tables import Function, Panel, PinLeftOut

router = APIRouter()


@router.get("/boards/{code}/functions")
def choose_functions(request: Request, code: str, panel: str = "") -> Response:
    """Every panel with the functions it has to give; one panel opened to choose single ones."""
    return _page(request, code, panel, Typed())


@router.post("/boards/{code}/functions")
def save_functions(request: Request, code: str, typed: TypedForm) -> Response:
    """Put the functions named on the board: single ones, and of whole panels those on no board yet."""
    panels = [text for text in typed.lists.get("panel", []) if text]
    singles = [text for text in typed.lists.get("function", []) if text]
    with session_of(request) as session:
        board = board_row(session, code)
        ids = _ids(session, typed, panels, singles)
        if typed.is_fine and not ids:
            typed.refuse(
                "panel" if panels else "function",
                "Every function of it sits on a board already."
                if panels
                else "Choose a panel or a function.",
            )
        if not typed.is_fine:
            if typed.value("from") == "choose":
                return _page(request, code, typed.value("opened"), typed, status=422)
            return board_page(request, code, typed, status=422)
        moved = put_functions_on_board(session, ids, board.id)
        session.commit()
        notice = f"{moved} {'function is' if moved == 1 else 'functions are'} put on {code}."
        notice += _without_place(session, board.id or 0)
    return go_to(f"/boards/{code}", notice)


@router.post("/boards/{code}/functions/off")
def take_functions_off(request: Request, code: str, typed: TypedForm) -> Response:
    """Take the functions ticked off the board."""
    singles = [text for text in typed.lists.get("function", []) if text]
    with session_of(request) as session:
        board = board_row(session, code)
        ids = session.exec(
            select(Function.id).where(Function.board_id == board.id, col(Function.code).in_(singles))
        ).all()
        if not ids:
            typed.refuse("off", "Tick the functions to take off first.")
            return board_page(request, code, typed, status=422)
        moved = put_functions_on_board(session, [id_ for id_ in ids if id_ is not None], None)
        session.commit()
    return go_to(f"/boards/{code}", f"{moved} {'function is' if moved == 1 else 'functions are'} off {code}.")


def _ids(session: Session, typed: Typed, panels: list[str], singles: list[str]) -> list[int]:
    known = dict(session.exec(select(Panel.code, Panel.id).where(col(Panel.code).in_(panels))).all())
    for code in panels:
        if code not in known:
            typed.refuse("panel", f"There is no panel {code[:40]} in this cockpit.")
    found = dict(
        session.exec(select(Function.code, Function.id).where(col(Function.code).in_(singles))).all()
    )
    for code in singles:
        if code not in found:
            typed.refuse("function", f"There is no function {code[:40]} in this cockpit.")
    whole = session.exec(
        select(Function.id).where(
            col(Function.panel_id).in_(list(known.values())), col(Function.board_id).is_(None)
        )
    ).all()
    return [id_ for id_ in [*found.values(), *whole] if id_ is not None]


def _without_place(session: Session, board_id: int) -> str:
    codes = session.exec(
        select(Function.code)
        .join(PinLeftOut, col(PinLeftOut.function_id) == Function.id)
        .where(PinLeftOut.board_id == board_id)
        .order_by(Function.code)
    ).all()
    if not codes:
        return ""
    return f" Without a place there: {', '.join(codes[:6])}{f' and {len(codes) - 6} more' if len(codes) > 6 else ''}."


def _page(request: Request, code: str, opened: str, form: Typed, status: int = 200) -> Response:
    result = cockpit_result(request)
    board = board_of(result, code)
    return render(
        request,
        "board_functions.html",
        status=status,
        code=code,
        name=board.board.name,
        result=board,
        panels=panels_for_board(result.plan, board.board.id or 0),
        opened=opened,
        boards=result.plan.boards,
        form=form,
    )
