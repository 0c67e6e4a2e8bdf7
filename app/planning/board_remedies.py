"""Remedies for a board short of pins: gathered from the plan, tried on paper, taken (C4)."""

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from sqlmodel import Session, col, select

from app.calculations.board_remedy import UnknownRemedy, board_remedy
from app.calculations.board_remedy import board_remedies as remedy_rows
from app.calculations.board_remedy_row import RemedyRow
from app.calculations.board_remedy_stock import (
    RemedyBoard,
    RemedyCarrier,
    RemedyComponent,
    RemedyFigures,
    RemedyFunction,
    RemedyLibrary,
    RemedyModule,
    RemedyQuestion,
    RemedyStock,
)
from app.calculations.pin_fit import PinUse
from app.planning.board_bus import read_addresses
from app.planning.board_edit import add_board, change_board, put_functions_on_board
from app.planning.board_pins import MARGIN_SHARE, contacts_of, link_terminals, terminal_needs, usable_pins
from app.planning.choose import put_candidate
from app.planning.component_sheet import kinds_of
from app.planning.edit import next_code
from app.planning.pin_plan import solve_pins
from app.planning.plan import FunctionRow, Plan, read_plan
from app.tables import Board, BoardModule, Component, Function

__all__ = ["RemedyRow", "UnknownRemedy", "board_remedies", "remedy_question", "take_remedies", "try_remedies"]

TABLES_KEPT = 24
CHIPS_HELD_BY_PIXELS = ("atmega", "attiny")
"""Chips that send pixels by counting cycles, with interrupts off: common practice of their libraries."""

_kept: OrderedDict[RemedyQuestion, tuple[RemedyRow, ...]] = OrderedDict()
_kept_lock = threading.Lock()


def board_remedies(
    plan: Plan, board: Board, *, cancelled: Callable[[], bool] | None = None
) -> Iterator[RemedyRow]:
    """The table of remedies of a board, row by row as each is solved; a finished table is kept by its inputs."""
    question = remedy_question(plan, board)
    with _kept_lock:
        kept = _kept.get(question)
        if kept is not None:
            _kept.move_to_end(question)
    if kept is not None:
        yield from kept
        return
    was_cancelled = False

    def is_cancelled() -> bool:
        nonlocal was_cancelled
        was_cancelled = was_cancelled or (cancelled is not None and cancelled())
        return was_cancelled

    rows: list[RemedyRow] = []
    for row in remedy_rows(question, is_cancelled=is_cancelled):
        rows.append(row)
        yield row
    if not was_cancelled:
        with _kept_lock:
            _kept[question] = tuple(rows)
            while len(_kept) > TABLES_KEPT:
                _kept.popitem(last=False)


def try_remedies(plan: Plan, board: Board, codes: Sequence[str]) -> RemedyRow:
    """Any combination of remedies on paper; writes nothing.

    Raises:
        UnknownRemedy: no remedy has a code.
    """
    return board_remedy(remedy_question(plan, board), codes)


def take_remedies(session: Session, board: Board, codes: Sequence[str]) -> RemedyRow:
    """Take remedies: choose components, change the module, add a board, move functions, as the row says.

    Each component is chosen with what the remedy does as its reason. The pins of all boards concerned are solved
    anew; the caller commits.

    Raises:
        UnknownRemedy: no remedy has a code.
    """
    session.flush()
    plan = read_plan(session)
    row = try_remedies(plan, plan.boards[board.id or 0], codes)
    components = {component.code: component.id or 0 for component in plan.components.values()}
    wanted = {change.function: change.to_code for change in row.changes}
    reason = f"{row.name} for pins: {board.code} from {row.pins_before} to {row.pins_needed} of {row.usable} needed."
    for function in session.exec(select(Function).where(col(Function.code).in_(wanted))).all():
        put_candidate(session, function, components[wanted[function.code]], "chosen", reason)
    module = next(m for m in plan.modules.values() if m.code == row.module)
    if module.id != board.module_id:
        change_board(session, board, board.version, {"module_id": module.id, "boot_loader_bytes": None})
    ids = {function.code: function.id for function in plan.functions.values()}
    boards = {each.code: each.id or 0 for each in plan.boards.values()}
    for to_board in dict.fromkeys(move.to_board for move in row.moves):
        target_id = boards.get(to_board) if to_board else _second_board(session, plan, board)
        moved = [ids[move.function] for move in row.moves if move.to_board == to_board]
        put_functions_on_board(session, moved, target_id)
    solve_pins(session, [board.id or 0])
    return row


def _second_board(session: Session, plan: Plan, board: Board) -> int:
    module = plan.modules[board.module_id]
    code = next_code(session, Board, "BD", 2)
    added = add_board(
        session, code, module.code, name=f"Beside {board.code}", stack_reserve_bytes=board.stack_reserve_bytes
    )
    added.baud = board.baud
    session.add(added)
    return added.id or 0


def remedy_question(plan: Plan, board: Board) -> RemedyQuestion:
    """What the remedies of a board are worked out from: it, the other boards, and what can be had."""
    return RemedyQuestion(
        board=_board(plan, board),
        others=tuple(_board(plan, other) for other in plan.boards.values() if other.id != board.id),
        stock=RemedyStock(
            components=tuple(_component(plan, component) for component in plan.components.values()),
            carriers=tuple(
                RemedyCarrier(
                    carrier.code,
                    carrier.name,
                    carrier.places,
                    read_addresses(carrier.addresses),
                    carrier.cost,
                    carrier.cost_mark,
                )
                for carrier in plan.carriers.values()
            ),
            libraries=tuple(
                RemedyLibrary(x.code, x.name, x.program_bytes, x.memory_bytes, x.is_on_every_board)
                for x in plan.libraries.values()
            ),
            modules=tuple(_module(plan, module) for module in plan.modules.values()),
        ),
        figures=RemedyFigures(margin_share=MARGIN_SHARE),
    )


def _component(plan: Plan, component: Component) -> RemedyComponent:
    id_ = component.id or 0
    has_buffer = bool(component.buffer_is) or component.buffer_bytes is not None
    return RemedyComponent(
        code=component.code,
        name=component.name,
        terminals=terminal_needs(plan, id_),
        kinds=kinds_of(component),
        carrier=plan.carriers[component.carrier_id].code if component.carrier_id is not None else "",
        libraries=tuple(plan.libraries[x].code for x in plan.component_libraries.get(id_, ())),
        buffer_bytes=component.buffer_bytes if has_buffer else 0,
        blocked_us=component.blocked_us,
        addresses=read_addresses(component.addresses),
        cost=component.cost,
        cost_mark=component.cost_mark,
        fewer_pins_by=tuple(
            plan.components[instead_id].code
            for instead_id, saves in plan.insteads.get(id_, ())
            if saves == "pins"
        ),
    )


def _module(plan: Plan, module: BoardModule) -> RemedyModule:
    # Pins with something to mind stand last, as the board's own solve has them.
    pins = sorted(plan.pins.get(module.id or 0, ()), key=lambda pin: bool(pin.condition))
    return RemedyModule(
        code=module.code,
        name=module.name,
        pins=tuple(usable_pins(pins)),
        link=link_terminals(module),
        memory_bytes=module.memory_bytes,
        program_bytes=module.program_bytes,
        boot_loader_bytes=module.boot_loader_bytes,
        logic_v=module.logic_v,
        cost=module.cost,
        is_held_by_pixels=module.chip.lower().startswith(CHIPS_HELD_BY_PIXELS),
    )


def _board(plan: Plan, board: Board) -> RemedyBoard:
    id_ = board.id or 0
    functions = plan.functions_by_board.get(id_, ())
    here = {function.id: function.code for function in functions}
    uses = [
        (
            PinUse(
                use.pin_label,
                here[use.function_id] if use.function_id is not None else None,
                None if use.function_id is not None else use.group_name or None,
                use.terminal,
            ),
            use.is_locked,
        )
        for use in plan.pin_uses.get(id_, ())
        if use.function_id is None or use.function_id in here
    ]
    bus = plan.buses.get(id_)
    return RemedyBoard(
        code=board.code,
        module=plan.modules[board.module_id].code,
        functions=tuple(_function(plan, function) for function in functions),
        locked=tuple(use for use, is_locked in uses if is_locked),
        in_place=tuple(use for use, _ in uses),
        stack_reserve_bytes=board.stack_reserve_bytes,
        boot_loader_bytes=board.boot_loader_bytes,
        bus_clock_khz=bus.clock_khz if bus else None,
        baud=board.baud,
    )


def _function(plan: Plan, function: FunctionRow) -> RemedyFunction:
    component = plan.component_of(function)
    row = RemedyFunction(
        key=function.code,
        component=component.code if component is not None else "",
        positions=contacts_of(function),
        places=contacts_of(function) or 1,
        panel=plan.panels[function.panel_id].code,
    )
    if component is None:
        return row
    # A centre-off toggle is one contact to a matrix, but has two leads to read.
    own = [need for need in terminal_needs(plan, component.id or 0) if not need.shared_as]
    leads = sum(1 for need in own if need.need == "in" and not need.per_position)
    return replace(row, places=max(row.places, leads))
