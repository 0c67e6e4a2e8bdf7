"""What a board's sheet shows: each pin with what it does now, its functions, what fills its memory."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.calculations.board_terminals import board_terminals, matrix_terminals
from app.calculations.pin_demand import MATRIX
from app.planning.board_pins import AbilityBudget, function_needs, is_usable, link_terminals
from app.planning.cockpit_result import BoardResult, CockpitResult
from app.planning.finding import VERDICT_ORDER, Finding, Verdict
from app.planning.module_pin_text import PinDraft
from app.planning.plan import FunctionRow, Plan
from app.tables import BoardModule, ModulePin, PinUse

ABILITY_WORDS = {
    "in": "input",
    "out": "output",
    "pullup": "pull-up",
    "analogue": "analogue",
    "pulse": "pulse-width",
    "interrupt": "interrupt",
    "sda": "two-wire data",
    "scl": "two-wire clock",
    "spi-clock": "SPI clock",
    "spi-out": "SPI out",
    "spi-in": "SPI in",
    "rx": "receive",
    "tx": "send",
}

GROUP_WORDS = {
    "i2c": "shared two-wire bus",
    "gdrv": "shared by gauge drivers",
    "seg": "shared segment chain",
    "sro": "shared output chain",
    "isr": "shared input chain",
    "px": "shared pixel line",
    "serial": "to the computer",
    MATRIX: "shared",
}

ROLE_WORDS = {"power": "power", "ground": "ground", "reset": "reset", "other": "not for signals"}


@dataclass(frozen=True, slots=True)
class PinLine:
    """One pin of the module: what it can do, what holds it, what it carries now."""

    pin: ModulePin
    state: str
    carries: str
    abilities: tuple[str, ...]
    function: FunctionRow | None
    is_usable: bool
    is_locked: bool


@dataclass(frozen=True, slots=True)
class FunctionLine:
    """One function on the board: its component, its own pins, and how it stands."""

    function: FunctionRow
    panel_code: str
    component_name: str
    pins: tuple[str, ...]
    shares: tuple[str, ...]
    state: str


@dataclass(frozen=True, slots=True)
class TerminalChoice:
    """A terminal that may be put on a pin by hand; `value` stands for it in a form."""

    value: str
    text: str
    function_code: str
    group: str
    terminal: str
    pin_label: str


@dataclass(frozen=True, slots=True)
class BoardSheet:
    """All of one board's sheet that does not stand in its result."""

    pins: tuple[PinLine, ...]
    functions: tuple[FunctionLine, ...]
    terminals: tuple[TerminalChoice, ...]
    abilities: tuple[AbilityBudget, ...]


@dataclass(frozen=True, slots=True)
class BoardLine:
    """One row of the list of boards."""

    result: BoardResult
    verdict: Verdict
    memory_share: float | None
    measured_share: float | None
    program_share: float | None
    program_is_measured: bool


@dataclass(frozen=True, slots=True)
class FreePanel:
    """The functions of a panel that sit on no board yet, or on another than the one looked at."""

    panel_code: str
    panel_name: str
    on_none: tuple[FunctionRow, ...]
    elsewhere: tuple[FunctionRow, ...]
    here: tuple[FunctionRow, ...]


def board_lines(result: CockpitResult) -> tuple[BoardLine, ...]:
    """The list of boards, in order of their ids."""
    return tuple(_line(board) for board in result.boards.values())


def board_sheet(plan: Plan, result: BoardResult) -> BoardSheet:
    """What a board's sheet shows beside its budgets and findings."""
    uses = plan.pin_uses.get(result.board.id or 0, ())
    by_label = {use.pin_label: use for use in uses}
    module_pins = plan.pins.get(result.module.id or 0, ())
    return BoardSheet(
        pins=tuple(_pin_line(plan, pin, by_label.get(pin.label)) for pin in module_pins),
        functions=tuple(_function_lines(plan, result, uses)),
        terminals=tuple(_terminal_choices(plan, result, uses)),
        abilities=result.pins.by_ability,
    )


def module_pin_lines(plan: Plan, module: BoardModule) -> tuple[PinLine, ...]:
    """The pins of a module that no board uses: all free but those reserved."""
    return tuple(_pin_line(plan, pin, None) for pin in plan.pins.get(module.id or 0, ()))


def drafted_pin_lines(pins: Sequence[PinDraft]) -> tuple[PinLine, ...]:
    """The pins of a module as typed, before it is kept."""
    return tuple(
        _pin_line(
            None,
            ModulePin(
                module_id=0,
                side=pin.side,
                row=pin.row,
                place=pin.place,
                label=pin.label,
                role=pin.role,
                chip_pin=pin.chip_pin,
                abilities=" ".join(sorted(pin.abilities)),
                reserved_for=pin.reserved_for,
                condition=pin.condition,
            ),
            None,
        )
        for pin in pins
    )


def panels_for_board(plan: Plan, board_id: int) -> tuple[FreePanel, ...]:
    """Every panel that has functions, and where each of them sits, seen from one board."""
    by_panel: dict[int, list[FunctionRow]] = {}
    for function in plan.functions.values():
        by_panel.setdefault(function.panel_id, []).append(function)
    return tuple(
        FreePanel(
            panel_code=plan.panels[panel_id].code,
            panel_name=plan.panels[panel_id].name,
            on_none=tuple(f for f in functions if f.board_id is None),
            elsewhere=tuple(f for f in functions if f.board_id not in (None, board_id)),
            here=tuple(f for f in functions if f.board_id == board_id),
        )
        for panel_id, functions in by_panel.items()
    )


def board_verdict(result: BoardResult) -> Verdict:
    """The worst verdict on a board's pins, memory and program."""
    findings: list[Finding] = [result.pins.finding, *result.memory.findings]
    return min((finding.verdict for finding in findings), key=VERDICT_ORDER.index)


def _line(result: BoardResult) -> BoardLine:
    memory = result.memory
    program = memory.program_measured or memory.program_estimate
    return BoardLine(
        result=result,
        verdict=board_verdict(result),
        memory_share=memory.estimate.static_share,
        measured_share=memory.measured.share if memory.measured else None,
        program_share=program.share,
        program_is_measured=memory.program_measured is not None,
    )


def ability_words(abilities: str) -> tuple[str, ...]:
    """The abilities of a pin in words, plain ones first: "input", "analogue A0", "receive 1 or 2"."""
    instances: dict[str, list[str]] = {}
    for token in sorted(abilities.split()):
        name, _, instance = token.partition(":")
        instances.setdefault(name, []).extend([instance] if instance else [])
    order = {name: place for place, name in enumerate(ABILITY_WORDS)}
    return tuple(
        f"{ABILITY_WORDS.get(name, name)} {' or '.join(instances[name])}".rstrip()
        for name in sorted(instances, key=lambda name: (order.get(name, len(order)), name))
    )


def _pin_line(plan: Plan | None, pin: ModulePin, use: PinUse | None) -> PinLine:
    function = None
    if plan is not None and use is not None and use.function_id is not None:
        function = plan.functions.get(use.function_id)
    usable = is_usable(pin)
    if use is not None:
        state, carries = "used", _use_words(use, function)
    elif pin.role != "io":
        state, carries = "power", ROLE_WORDS.get(pin.role, pin.role)
    elif pin.reserved_for:
        state, carries = "reserved", f"reserved: {pin.reserved_for}"
    elif not usable:
        state, carries = "reserved", "no ability is known for it"
    else:
        state, carries = "free", "free"
    return PinLine(
        pin=pin,
        state=state,
        carries=carries,
        abilities=ability_words(pin.abilities),
        function=function,
        is_usable=usable,
        is_locked=use.is_locked if use is not None else False,
    )


def _use_words(use: PinUse, function: FunctionRow | None) -> str:
    if function is not None:
        return f"{function.code} {use.terminal}, {function.name}"
    if use.group_name:
        words = GROUP_WORDS.get(use.group_name, "shared")
        return f"{use.group_name} {use.terminal}, {words}"
    return f"link {use.terminal}, to the computer"


def _function_lines(plan: Plan, result: BoardResult, uses: Sequence[PinUse]) -> list[FunctionLine]:
    left_out = {function.id for function in result.pins.left_out}
    unknown = {function.id for function in result.pins.unknown}
    pins: dict[int, list[str]] = {}
    for use in uses:
        if use.function_id is not None:
            pins.setdefault(use.function_id, []).append(use.pin_label)
    lines = []
    for function in plan.functions_by_board.get(result.board.id or 0, ()):
        component = plan.component_of(function)
        terminals = plan.terminals.get(function.component_id or 0, ())
        shares = [terminal.shared_as for terminal in terminals if terminal.shared_as]
        shares += [MATRIX for terminal in terminals if terminal.need == "contact"]
        state = "placed"
        if function.id in left_out:
            state = "left out"
        elif component is None:
            state = "no component chosen"
        elif function.id in unknown:
            state = "positions missing"
        lines.append(
            FunctionLine(
                function=function,
                panel_code=plan.panels[function.panel_id].code,
                component_name=component.name if component is not None else "",
                pins=tuple(pins.get(function.id, ())),
                shares=tuple(dict.fromkeys(shares)),
                state=state,
            )
        )
    return lines


def _terminal_choices(plan: Plan, result: BoardResult, uses: Sequence[PinUse]) -> list[TerminalChoice]:
    functions = plan.functions_by_board.get(result.board.id or 0, ())
    wanted = board_terminals(function_needs(plan, functions), link_terminals(result.module))
    matrix = result.pins.demand.matrix
    terminals = [
        *(terminal for function in wanted.functions for terminal in function.own),
        *(terminal for group in wanted.groups.values() for terminal in group),
        *(matrix_terminals(matrix.rows, matrix.columns) if matrix else ()),
        *wanted.link,
    ]
    codes = {function.id: function.code for function in functions}
    at = {(codes.get(use.function_id or 0, ""), use.group_name, use.terminal): use.pin_label for use in uses}
    return [
        TerminalChoice(
            value=f"{terminal.function or ''}|{terminal.group or ''}|{terminal.name}",
            text=f"{terminal.full_name} ({ABILITY_WORDS.get(terminal.ability, terminal.ability)})",
            function_code=terminal.function or "",
            group=terminal.group or "",
            terminal=terminal.name,
            pin_label=at.get((terminal.function or "", terminal.group or "", terminal.name), ""),
        )
        for terminal in terminals
    ]
