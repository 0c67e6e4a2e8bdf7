"""A board on paper: so many of each component on a board module, tried without keeping anything."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from app.calculations.pin_contest import pin_contest
from app.calculations.pin_fit import PinFit, pin_fit
from app.planning.board_pins import BoardPins, board_pins, function_needs, link_terminals, usable_pins
from app.planning.component_sheet import kinds_of
from app.planning.pin_plan import NO_LINK
from app.planning.plan import FunctionRow, PanelRow, Plan
from app.tables import Board, BoardModule, PinPlan, PinUse

BOARD_ID = PANEL_ID = -1
MOST_FUNCTIONS = 200
"""More are not laid out; no module has pins for them."""
TIME_LIMIT_S = 2.0
SELECTOR = "selector"


class TooManyOnPaper(Exception):
    """More parts than are laid out; the message says how many."""


@dataclass(frozen=True, slots=True)
class PaperChoice:
    """So many of a component; `positions` of each where it is a selector."""

    component_id: int
    count: int
    positions: int | None = None


@dataclass(frozen=True, slots=True)
class PaperTerminal:
    """A terminal on a pin: whose, and which."""

    pin: str
    owner: str
    terminal: str


@dataclass(frozen=True, slots=True)
class BoardOnPaper:
    """The pin budget of a board on paper and a first assignment of its terminals."""

    module: BoardModule
    pins: BoardPins
    terminals: tuple[PaperTerminal, ...]


def board_on_paper(plan: Plan, module_code: str, choices: Sequence[PaperChoice]) -> BoardOnPaper | None:
    """The pin budget of components on a module, as a real board of the plan would have it; writes nothing.

    Returns:
        The budget with its finding; None where no module has this code.

    Raises:
        TooManyOnPaper: more than 200 parts.
    """
    module = next((module for module in plan.modules.values() if module.code == module_code), None)
    if module is None:
        return None
    rows = _functions(plan, choices)
    if len(rows) > MOST_FUNCTIONS:
        raise TooManyOnPaper(f"{len(rows)} parts are more than one board carries; at most {MOST_FUNCTIONS}.")
    board = Board(id=BOARD_ID, code="The board", module_id=module.id or 0)
    on_paper = replace(
        plan,
        panels={PANEL_ID: PanelRow(PANEL_ID, "", "")},
        functions={row.id: row for row in rows},
        boards={BOARD_ID: board},
        pin_uses={},
        pin_plans={},
        left_out={},
    )
    pins, needs, link = (
        usable_pins(plan.pins.get(board.module_id, ())),
        function_needs(on_paper, rows),
        link_terminals(module),
    )
    fit = pin_fit(pins, needs, link, time_limit_s=TIME_LIMIT_S)
    contest = pin_contest(pins, needs, link, []) if fit.left_out or not fit.is_link_placed else None
    solved = replace(
        on_paper,
        pin_uses={BOARD_ID: _uses(fit, {row.code: row.id for row in rows})},
        pin_plans={
            BOARD_ID: PinPlan(
                board_id=BOARD_ID,
                is_best_found=fit.is_best_found,
                contest=contest.sentence if contest else "",
                trouble="" if fit.is_link_placed else NO_LINK,
                solved_at=datetime.now(UTC),
            )
        },
        left_out={BOARD_ID: frozenset(row.id for row in rows if row.code in fit.left_out)},
    )
    return BoardOnPaper(
        module,
        board_pins(solved, board),
        tuple(PaperTerminal(u.pin, u.function or u.group or "link", u.terminal) for u in fit.uses),
    )


def _functions(plan: Plan, choices: Sequence[PaperChoice]) -> list[FunctionRow]:
    """One function for each part, named by its component's id and a number: "gs4-2"."""
    rows: list[FunctionRow] = []
    seen: dict[int, int] = {}
    for choice in choices:
        component = plan.components[choice.component_id]
        kinds = kinds_of(component)
        kind = SELECTOR if choice.positions or not kinds else kinds[0]
        for _ in range(choice.count):
            number = seen[choice.component_id] = seen.get(choice.component_id, 0) + 1
            rows.append(
                FunctionRow(
                    id=len(rows) + 1,
                    code=f"{component.code}-{number}",
                    name=component.name.split(",")[0],
                    kind=kind,
                    panel_id=PANEL_ID,
                    board_id=BOARD_ID,
                    positions=choice.positions,
                    wiring_text=component.code,
                    component_id=choice.component_id,
                )
            )
    return rows


def _uses(fit: PinFit, ids: dict[str, int]) -> tuple[PinUse, ...]:
    return tuple(
        PinUse(
            board_id=BOARD_ID,
            pin_label=use.pin,
            function_id=ids[use.function] if use.function else None,
            group_name=use.group or "",
            terminal=use.terminal,
        )
        for use in fit.uses
    )
