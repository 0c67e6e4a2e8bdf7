"""Board modules: the list of types of board, and the sheet of one."""

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session, select
from starlette.exceptions import HTTPException

from app.pages.board_drawing import draw_module
from app.pages.sheet import cockpit_result, render, session_of
from app.planning.board_pins import is_usable
from app.planning.board_sheet import module_pin_lines
from app.planning.module_edit import LINK_WORDS, boards_of_module, module_limits
from app.tables import BoardModule

router = APIRouter()


@router.get("/board-modules")
def show_modules(request: Request) -> Response:
    """The list of modules, the builder's own after the starter ones."""
    plan = cockpit_result(request).plan
    boards: dict[int, list[str]] = {}
    for board in plan.boards.values():
        boards.setdefault(board.module_id, []).append(board.code)
    rows = []
    for module in sorted(plan.modules.values(), key=lambda module: (not module.is_starter, module.id)):
        usable = [pin for pin in plan.pins.get(module.id or 0, ()) if is_usable(pin)]
        analogue = sum("analogue:" in pin.abilities for pin in usable)
        rows.append((module, len(usable), analogue, boards.get(module.id or 0, [])))
    return render(request, "board_modules.html", rows=rows, links=LINK_WORDS)


@router.get("/board-modules/{code}")
def show_module(request: Request, code: str) -> Response:
    """The sheet of one module: its drawing, its pins, its limits with their sources."""
    plan = cockpit_result(request).plan
    with session_of(request) as session:
        module = module_row(session, code)
        lines = module_pin_lines(plan, module)
        return render(
            request,
            "board_module.html",
            module=module,
            lines=lines,
            usable=sum(line.is_usable for line in lines),
            analogue=sum(line.is_usable and "analogue:" in line.pin.abilities for line in lines),
            drawing=draw_module(f"{module.code}, {module.name}", module, lines),
            limits=module_limits(session, module),
            boards=boards_of_module(session, module),
            links=LINK_WORDS,
        )


def module_row(session: Session, code: str) -> BoardModule:
    """The row of a module by its id, or the sheet that says there is none."""
    module = session.exec(select(BoardModule).where(BoardModule.code == code)).first()
    if module is None:
        raise HTTPException(404, f"There is no board module {code[:40]} in this cockpit.")
    return module
