"""Adding boards, changing them, putting functions on them and off them; taking an empty board away."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlmodel import Session, col, delete, func, select

from app import units
from app.planning.edit import CodeTaken, code_is_free, save_row
from app.planning.pin_plan import solve_pins
from app.tables import Board, BoardModule, FirmwareBuild, Function, PinLeftOut, PinPlan, PinUse


class UnknownModule(LookupError):
    """No board module has this code."""


class BoardInUse(Exception):
    """The board still holds functions or firmware builds; the message counts them."""


class BootLoaderTooLarge(Exception):
    """A boot loader that fills the module's whole program space; the message says by how much."""


def add_board(
    session: Session,
    code: str,
    module_code: str,
    *,
    name: str = "",
    note: str = "",
    boot_loader_bytes: int | None = None,
    stack_reserve_bytes: int = 300,
) -> Board:
    """A new board with its pins solved; the caller commits.

    Raises:
        CodeTaken: another board has this id.
        UnknownModule: no module has this code.
        BootLoaderTooLarge: it leaves no program space.
    """
    if not code_is_free(session, Board, code):
        raise CodeTaken(f"{code} is another board's id.")
    module = module_by_code(session, module_code)
    try_boot_loader(module, boot_loader_bytes)
    board = Board(
        code=code,
        name=name,
        module_id=module.id or 0,
        note=note,
        boot_loader_bytes=boot_loader_bytes,
        stack_reserve_bytes=stack_reserve_bytes,
    )
    session.add(board)
    session.flush()
    solve_pins(session, [board.id or 0])
    return board


def change_board(session: Session, board: Board, seen_version: int, values: Mapping[str, Any]) -> None:
    """Write values over a board; where its module changes its pins are solved anew. The caller commits.

    Raises:
        EditedMeanwhile: another tab saved it first.
        BootLoaderTooLarge: it leaves no program space on the module.
    """
    module_id = values.get("module_id", board.module_id)
    module = session.exec(select(BoardModule).where(BoardModule.id == module_id)).one()
    try_boot_loader(module, values.get("boot_loader_bytes", board.boot_loader_bytes))
    module_before = board.module_id
    save_row(session, board, seen_version, values)
    if board.module_id != module_before:
        solve_pins(session, [board.id or 0])


def module_by_code(session: Session, code: str) -> BoardModule:
    """The board module with this code.

    Raises:
        UnknownModule: there is none.
    """
    module = session.exec(select(BoardModule).where(BoardModule.code == code)).first()
    if module is None:
        raise UnknownModule(f"There is no board module {code}.")
    return module


def try_boot_loader(module: BoardModule, boot_loader_bytes: int | None) -> None:
    """Refuse a boot loader that leaves no room for a program.

    Raises:
        BootLoaderTooLarge: it takes all the program space of the module, or more.
    """
    taken = module.boot_loader_bytes if boot_loader_bytes is None else boot_loader_bytes
    if module.program_bytes is not None and taken >= module.program_bytes:
        raise BootLoaderTooLarge(
            f"A boot loader of {units.show(taken, 'bytes')} leaves nothing of the "
            f"{units.show(module.program_bytes, 'bytes')} of program space on {module.code}."
        )


def put_functions_on_board(session: Session, function_ids: Sequence[int], board_id: int | None) -> int:
    """Put functions on a board (None: take them off theirs) and solve the boards left and joined anew.

    Returns:
        How many functions moved. The caller commits.
    """
    wanted = set(function_ids)
    moved: list[Function] = []
    if wanted:
        rows = session.exec(select(Function).where(col(Function.id).in_(wanted))).all()
        moved = [function for function in rows if function.board_id != board_id]
    touched = {function.board_id for function in moved if function.board_id is not None}
    for function in moved:
        function.board_id = board_id
        function.version += 1
        session.add(function)
    if moved and board_id is not None:
        touched.add(board_id)
    if touched:
        solve_pins(session, sorted(touched))
    return len(moved)


def what_holds_board(session: Session, board: Board) -> str:
    """What stands against taking a board away, in words; empty where nothing does."""
    functions = session.exec(select(func.count()).where(col(Function.board_id) == board.id)).one()
    builds = session.exec(select(func.count()).where(col(FirmwareBuild.board_id) == board.id)).one()
    held = [
        f"{number} {word}{'' if number == 1 else 's'}"
        for number, word in ((functions, "function"), (builds, "firmware build"))
        if number
    ]
    return " and ".join(held)


def delete_board(session: Session, board: Board) -> None:
    """Take away a board that holds nothing; the caller commits.

    Raises:
        BoardInUse: functions or firmware builds belong to it.
    """
    held = what_holds_board(session, board)
    if held:
        raise BoardInUse(f"{board.code} holds {held}; take them off first.")
    for table in (PinUse, PinLeftOut, PinPlan):
        session.exec(delete(table).where(col(table.board_id) == board.id))
    session.delete(board)
    session.flush()
