"""The pin budget of a board: what its functions need, what the module brings out, what is left (C1)."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from app.calculations.pin_demand import FunctionNeed, PinDemand, TerminalNeed, pin_demand
from app.calculations.pin_fit import Pin
from app.calculations.pin_saving import pin_saving
from app.calculations.source_mark import weakest
from app.planning.finding import About, Finding, percent
from app.planning.plan import FunctionRow, Plan
from app.tables import Board, BoardModule, ModulePin

MARGIN_SHARE = 0.15
MARGIN_SOURCE = "margin of 15 % of the usable pins: common practice; a builder may plan with less"

LINK_TERMINALS = {
    "port chip": (TerminalNeed("receive", "rx", "serial"), TerminalNeed("send", "tx", "serial")),
    "own port": (),
    "radio": (),
}

ONE_CONTACT_KINDS = frozenset({"switch", "button", "holding switch"})

ABILITY_NAMES = {
    "out": "output",
    "in": "input",
    "pulse": "pulse-width",
    "analogue": "analogue input",
    "interrupt": "interrupt",
    "sda": "two-wire bus, data",
    "scl": "two-wire bus, clock",
    "spi-clock": "SPI clock",
    "spi-out": "SPI data out",
    "spi-in": "SPI data in",
    "select": "chip select",
    "rx": "serial, receive",
    "tx": "serial, send",
    "contact": "matrix contact",
}


@dataclass(frozen=True, slots=True)
class AbilityBudget:
    """Pins of one ability: how many terminals ask for it, how many usable pins have it, how many are free."""

    ability: str
    name: str
    needed: int
    able: int
    free: int


@dataclass(frozen=True, slots=True)
class BoardPins:
    """The pin budget of one board; `left` is negative where it is short."""

    demand: PinDemand
    usable: int
    left: int
    left_share: float
    by_ability: tuple[AbilityBudget, ...]
    left_out: tuple[FunctionRow, ...]
    unknown: tuple[FunctionRow, ...]
    contest: str
    trouble: str
    is_best_found: bool
    finding: Finding


def is_usable(pin: ModulePin) -> bool:
    """Whether a module pin may carry a terminal: it has abilities and nothing else holds it."""
    return bool(pin.abilities) and not pin.reserved_for


def usable_pins(pins: Sequence[ModulePin]) -> list[Pin]:
    """The pins of a module that may carry terminals, with their abilities."""
    return [Pin(pin.label, frozenset(pin.abilities.split())) for pin in pins if is_usable(pin)]


def terminal_needs(plan: Plan, component_id: int) -> tuple[TerminalNeed, ...]:
    """What the terminals of a component need of a board."""
    return tuple(
        TerminalNeed(terminal.name, terminal.need, terminal.shared_as or None, terminal.per_position)
        for terminal in plan.terminals.get(component_id, ())
    )


def contacts_of(function: FunctionRow) -> int | None:
    """How many times a terminal "one a position" counts: a selector's positions, one for a plain contact."""
    return 1 if function.kind in ONE_CONTACT_KINDS else function.positions


def function_needs(plan: Plan, functions: Sequence[FunctionRow]) -> list[FunctionNeed]:
    """What functions with a component chosen need of their board, in list order."""
    return [
        FunctionNeed(function.code, terminal_needs(plan, function.component_id), contacts_of(function))
        for function in functions
        if function.component_id is not None
    ]


def link_terminals(module: BoardModule) -> tuple[TerminalNeed, ...]:
    """The pins that the link to the computer takes."""
    return LINK_TERMINALS[module.link]


def board_pins(plan: Plan, board: Board) -> BoardPins:
    """The pin budget of a board and its finding."""
    functions = plan.functions_by_board.get(board.id or 0, ())
    module = plan.modules[board.module_id]
    demand = pin_demand(function_needs(plan, functions), link_terminals(module))
    pins = plan.pins.get(board.module_id, ())
    usable = sum(1 for pin in pins if is_usable(pin))
    left = usable - demand.total
    outside = plan.left_out.get(board.id or 0, frozenset())
    pin_plan = plan.pin_plans.get(board.id or 0)
    unknown = tuple(
        function for function in functions if function.component_id is None or function.code in demand.unknown
    )
    left_out = tuple(function for function in functions if function.id in outside)
    return BoardPins(
        demand=demand,
        usable=usable,
        left=left,
        left_share=left / usable if usable else 0.0,
        by_ability=_by_ability(plan, board, demand, pins),
        left_out=left_out,
        unknown=unknown,
        contest=pin_plan.contest if pin_plan else "",
        trouble=pin_plan.trouble if pin_plan else "",
        is_best_found=pin_plan.is_best_found if pin_plan else False,
        finding=_finding(plan, board, demand, usable, unknown, left_out),
    )


def about_board(plan: Plan, board: Board, functions: Sequence[FunctionRow] = ()) -> tuple[About, ...]:
    """The board, the panels it serves, and the functions named."""
    on_board = plan.functions_by_board.get(board.id or 0, ())
    panels = dict.fromkeys(function.panel_id for function in on_board)
    return (
        About("board", board.code, board.name or plan.modules[board.module_id].name),
        *(About("panel", plan.panels[id_].code, plan.panels[id_].name) for id_ in panels),
        *(About("function", function.code, function.name) for function in functions),
    )


def _by_ability(
    plan: Plan, board: Board, demand: PinDemand, pins: Sequence[ModulePin]
) -> tuple[AbilityBudget, ...]:
    able: Counter[str] = Counter()
    free: Counter[str] = Counter()
    used = {use.pin_label for use in plan.pin_uses.get(board.id or 0, ())}
    for pin in pins:
        if not is_usable(pin):
            continue
        abilities = {token.partition(":")[0] for token in pin.abilities.split()}
        able.update(abilities)
        if pin.label not in used:
            free.update(abilities)
    return tuple(
        AbilityBudget(ability, name, demand.by_need.get(ability, 0), able[ability], free[ability])
        for ability, name in ABILITY_NAMES.items()
        if able[ability]
    )


def _finding(
    plan: Plan,
    board: Board,
    demand: PinDemand,
    usable: int,
    unknown: Sequence[FunctionRow],
    left_out: Sequence[FunctionRow],
) -> Finding:
    left = usable - demand.total
    share = left / usable if usable else 0.0
    module = plan.modules[board.module_id]
    pin_plan = plan.pin_plans.get(board.id or 0)
    functions = plan.functions_by_board.get(board.id or 0, ())
    sentence = f"{board.code} needs {demand.total} pins and has {usable} usable"
    outside = ", ".join(f"{function.code} {function.name}" for function in left_out)
    placed = len(functions) - len(left_out) - len(unknown)
    trouble = pin_plan.trouble if pin_plan else ""
    remedies: tuple[str, ...] = ()
    if left < 0:
        verdict = "stop"
        sentence += f": short by {-left}; {placed} of {len(functions)} functions fit, left out: {outside}"
    elif left_out or trouble:
        verdict = "stop"
        what = trouble or (pin_plan.contest if pin_plan else "")
        sentence += f", {left} left, but not of the right ability: {what}"
        sentence += f"; left out: {outside}" if outside else ""
    elif unknown:
        verdict = "cannot tell"
        sentence += f" so far ({left} left), but {_missing(unknown)}"
    elif not functions:
        verdict = "cannot tell"
        sentence = f"{board.code} has {usable} usable pins, but no function is on it yet"
    elif share < MARGIN_SHARE:
        verdict = "caution"
        sentence += (
            f": {left} left ({percent(share)}), under the {percent(MARGIN_SHARE)} wanted for what comes later"
        )
    else:
        verdict = "fine"
        sentence += f": {left} left ({percent(share)})"
    if verdict in ("stop", "caution"):
        remedies = pin_remedies(plan, board, usable)
        if unknown:
            sentence += f"; besides, {_missing(unknown)}"
    return Finding(
        verdict=verdict,  # type: ignore[arg-type]  # one of the literals above
        about=about_board(plan, board, (*left_out, *unknown)),
        sentence=sentence + ".",
        remedies=remedies,
        source_mark=weakest(["assumed", module.figures_mark]),
        source=MARGIN_SOURCE if verdict in ("caution", "fine") else module.source,
        mend_at=f"/boards/{board.code}",
        mend_word="See the board's pins",
    )


def _missing(unknown: Sequence[FunctionRow]) -> str:
    without = [f"{f.code} {f.name}" for f in unknown if f.component_id is None]
    uncounted = [f"{f.code} {f.name}" for f in unknown if f.component_id is not None]
    parts = []
    if without:
        parts.append(f"no component is chosen for {', '.join(without[:4])}{_more(without)}")
    if uncounted:
        parts.append(f"the number of positions is missing for {', '.join(uncounted[:4])}{_more(uncounted)}")
    return " and ".join(parts)


def _more(names: Sequence[str]) -> str:
    return f" and {len(names) - 4} more" if len(names) > 4 else ""


def pin_remedies(plan: Plan, board: Board, usable: int) -> tuple[str, ...]:
    """The remedy line of a board that is short: swaps of components that need fewer pins, with their sums."""
    functions = plan.functions_by_board.get(board.id or 0, ())
    needs = {need.key: need for need in function_needs(plan, functions)}
    with_codes = [
        (plan.components[function.component_id].code, needs[function.code])
        for function in functions
        if function.component_id is not None
    ]
    alternatives = {
        component.code: [
            (plan.components[instead_id].code, terminal_needs(plan, instead_id))
            for instead_id, saves in plan.insteads.get(component.id or 0, ())
            if saves == "pins"
        ][:1]  # the usual way; the others stand on the component's sheet
        for component in plan.components.values()
    }
    module = plan.modules[board.module_id]
    saving = pin_saving(with_codes, alternatives, link_terminals(module), usable, MARGIN_SHARE)
    if saving is None:
        return ()
    names = {component.code: component.name for component in plan.components.values()}
    swaps = " and ".join(
        f"{names[to_code]} ({before} → {after})" for _, to_code, before, after in saving.changes
    )
    outcome = (
        f"{saving.total} needed, {saving.left} left ({percent(saving.left_share)})"
        if saving.left >= 0
        else f"{saving.total} needed, still short by {-saving.left}"
    )
    return (f"Change to {swaps}: {outcome}.",)
