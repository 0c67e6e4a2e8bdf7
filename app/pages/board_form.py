"""Adding a board, changing it, taking an empty one away."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session, col, select

from app import units
from app.pages.boards import board_row
from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import LONGEST_TEXT, Typed, TypedForm, typed_text
from app.planning.board_edit import (
    BoardInUse,
    BootLoaderTooLarge,
    add_board,
    change_board,
    delete_board,
    what_holds_board,
)
from app.planning.board_pins import is_usable
from app.planning.cockpit_result import CockpitResult
from app.planning.edit import CodeTaken, EditedMeanwhile, code_is_free, next_code
from app.tables import Board, BoardModule

router = APIRouter()

FIELDS = {
    "code": "Id",
    "name": "Name",
    "module": "Module",
    "boot_loader_bytes": "Boot loader",
    "stack_reserve_bytes": "Stack reserve",
    "note": "Note",
}
MOST_STACK_BYTES = 1 << 24


@router.get("/boards/new")
def new_board(request: Request, module: str = "") -> Response:
    """The form for a new board."""
    with session_of(request) as session:
        code = next_code(session, Board, "BD", 2)
    form = Typed({"code": code, "module": module, "stack_reserve_bytes": "300"})
    return _form(request, form)


@router.post("/boards/new")
def save_new_board(request: Request, typed: TypedForm) -> Response:
    """Keep a new board."""
    with session_of(request) as session:
        values = _read(session, typed)
        if typed.is_fine:
            try:
                add_board(session, **values)
            except CodeTaken:
                typed.refuse("code", _taken(values["code"]))
            except BootLoaderTooLarge as error:
                typed.refuse("boot_loader_bytes", str(error))
        if not typed.is_fine:
            return _form(request, typed, status=422)
        session.commit()
    return go_to(f"/boards/{values['code']}", f"{values['code']} is kept. Put functions on it next.")


@router.get("/boards/{code}/edit")
def edit_board(request: Request, code: str) -> Response:
    """The form for a board as it stands."""
    with session_of(request) as session:
        board = board_row(session, code)
        form = Typed.of_row(
            board, ("code", "name", "boot_loader_bytes", "stack_reserve_bytes", "note", "version")
        )
        form.values["module"] = session.exec(
            select(BoardModule.code).where(BoardModule.id == board.module_id)
        ).one()
    return _form(request, form, code)


@router.post("/boards/{code}/edit")
def save_board(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep what was changed of a board."""
    with session_of(request) as session:
        board = board_row(session, code)
        values = _read(session, typed)
        if typed.is_fine and not code_is_free(session, Board, values["code"], board.id):
            typed.refuse("code", _taken(values["code"]))
        if not typed.is_fine:
            return _form(request, typed, code, status=422)
        module = session.exec(select(BoardModule).where(BoardModule.code == values.pop("module_code"))).one()
        mine = [(FIELDS[name], typed.value(name)) for name in FIELDS]
        try:
            change_board(session, board, typed.seen_version(), {**values, "module_id": module.id})
        except EditedMeanwhile as error:
            typed.values["version"] = str(error.theirs["version"])
            return _form(request, typed, code, both=(mine, _theirs(session, error.theirs)), status=409)
        except BootLoaderTooLarge as error:
            typed.refuse("boot_loader_bytes", str(error))
            return _form(request, typed, code, status=422)
        session.commit()
    return go_to(f"/boards/{values['code']}", f"{values['code']} is kept.")


@router.get("/boards/{code}/delete")
def ask_delete_board(request: Request, code: str) -> Response:
    """Ask before a board is taken away; say what stands against it."""
    with session_of(request) as session:
        board = board_row(session, code)
        held = what_holds_board(session, board)
        return render(request, "board_delete.html", code=code, name=board.name, held=held)


@router.post("/boards/{code}/delete")
def save_delete_board(request: Request, code: str) -> Response:
    """Take an empty board away."""
    with session_of(request) as session:
        board = board_row(session, code)
        try:
            delete_board(session, board)
        except BoardInUse:
            held = what_holds_board(session, board)
            return render(request, "board_delete.html", code=code, name=board.name, held=held, status=409)
        session.commit()
    return go_to("/boards", f"{code} is taken away.")


def module_options(result: CockpitResult) -> list[tuple[str, str]]:
    """Every module with what it offers, for a select."""
    options = []
    for module in sorted(result.plan.modules.values(), key=lambda module: (not module.is_starter, module.id)):
        usable = sum(is_usable(pin) for pin in result.plan.pins.get(module.id or 0, ()))
        memory = (
            f"{units.show(module.memory_bytes, 'bytes')} of memory"
            if module.memory_bytes
            else "memory not entered"
        )
        options.append((module.code, f"{module.code} {module.name}: {usable} usable pins, {memory}"))
    return options


def _read(session: Session, typed: Typed) -> dict[str, Any]:
    code = typed.code("code")
    modules = session.exec(select(BoardModule.code).order_by(col(BoardModule.id))).all()
    module_code = typed.choice("module", "Module", modules, required=True)
    boot_loader = typed.quantity("boot_loader_bytes", "memory_bytes", "Boot loader")
    stack = typed.quantity("stack_reserve_bytes", "memory_bytes", "Stack reserve", required=True)
    for name, label, number in (
        ("boot_loader_bytes", "Boot loader", boot_loader),
        ("stack_reserve_bytes", "Stack reserve", stack),
    ):
        if number is not None and not 0 <= number <= MOST_STACK_BYTES:
            typed.refuse(name, f"{label} is from 0 to {units.show(MOST_STACK_BYTES, 'bytes')}.")
    return {
        "code": code,
        "name": typed.text("name", "Name"),
        "module_code": module_code,
        "boot_loader_bytes": None if boot_loader is None else round(boot_loader),
        "stack_reserve_bytes": round(stack or 0),
        "note": typed.text("note", "Note", longest=LONGEST_TEXT),
    }


def _theirs(session: Session, theirs: Any) -> list[tuple[str, str]]:
    module = session.exec(select(BoardModule.code).where(BoardModule.id == theirs["module_id"])).one()
    kept = {**theirs, "module": module}
    return [(label, typed_text(kept[name])) for name, label in FIELDS.items()]


def _taken(code: str) -> str:
    return f"{code} is another board's id."


def _form(request: Request, form: Typed, code: str = "", both: Any = None, status: int = 200) -> Response:
    options = module_options(cockpit_result(request))
    return render(
        request,
        "board_form.html",
        status=status,
        form=form,
        code=code,
        both=both,
        options=options,
        fields=FIELDS,
    )
