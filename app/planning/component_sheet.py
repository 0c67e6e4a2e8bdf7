"""The component sheets: the list with what each needs, and one component with everything known of it."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from app.calculations.source_mark import weakest
from app.planning.board_pins import ABILITY_NAMES
from app.planning.plan import Plan
from app.tables import Board, Candidate, Component, Function, Library, Panel, Rail, Terminal

NEED_WORDS = {
    "out": ("output", "outputs"),
    "in": ("input", "inputs"),
    "pulse": ("pulse-width output", "pulse-width outputs"),
    "analogue": ("analogue input", "analogue inputs"),
    "interrupt": ("interrupt input", "interrupt inputs"),
    "select": ("chip select", "chip selects"),
    "sda": ("bus data", "bus data"),
    "scl": ("bus clock", "bus clock"),
    "spi-clock": ("SPI clock", "SPI clocks"),
    "spi-out": ("SPI data out", "SPI data out"),
    "spi-in": ("SPI data in", "SPI data in"),
    "rx": ("serial receive", "serial receive"),
    "tx": ("serial send", "serial send"),
    "contact": ("matrix contact", "matrix contacts"),
    "none": ("terminal without a pin", "terminals without a pin"),
}
STATE_ORDER = ("chosen", "weighed", "rejected")


@dataclass(frozen=True, slots=True)
class ComponentLine:
    """One component as the list shows it; `uses` counts functions that chose it, `carried` those on panels."""

    component: Component
    kinds: tuple[str, ...]
    terminals: str
    rail: Rail | None
    currents_mark: str | None
    libraries: tuple[Library, ...]
    uses: int
    carried: int


@dataclass(frozen=True, slots=True)
class TerminalLine:
    """One terminal of a component, its need in words."""

    name: str
    need: str
    shared_as: str
    per_position: bool


@dataclass(frozen=True, slots=True)
class ComponentUse:
    """A function that weighed the component: how it stands there, and why."""

    code: str
    name: str
    panel_code: str
    board_code: str
    state: str
    reason: str


@dataclass(frozen=True, slots=True)
class CarriedLoad:
    """So many of the component on a panel that are no function."""

    panel_code: str
    panel_name: str
    count: int


@dataclass(frozen=True, slots=True)
class ComponentSheet:
    """One component with everything known of it; `fewer_pins` and `fewer_bytes` do the same with less."""

    line: ComponentLine
    terminals: tuple[TerminalLine, ...]
    fewer_pins: tuple[ComponentLine, ...]
    fewer_bytes: tuple[ComponentLine, ...]
    uses: tuple[ComponentUse, ...]
    carried: tuple[CarriedLoad, ...]


def kinds_of(component: Component) -> tuple[str, ...]:
    """The function kinds that a component suits."""
    return tuple(kind for part in component.kinds.split(",") if (kind := part.strip()))


def terminal_words(terminals: Sequence[Terminal]) -> str:
    """What terminals need of a board, in words.

    Example:
        >>> coils = [Terminal(component_id=1, name=f"coil {k}", need="out") for k in range(4)]
        >>> terminal_words(coils)
        '4 outputs'
        >>> bus = [Terminal(component_id=1, name=n, need=n, shared_as="i2c") for n in ("sda", "scl")]
        >>> terminal_words(bus)
        'data and clock, shared bus i2c'
    """
    if not terminals:
        return "none"
    parts: list[str] = []
    for shared_as in dict.fromkeys(terminal.shared_as for terminal in terminals):
        group = [terminal for terminal in terminals if terminal.shared_as == shared_as]
        counted = Counter((terminal.need, terminal.per_position) for terminal in group)
        if set(counted) == {("sda", False), ("scl", False)} and len(group) == 2:
            words = "data and clock"
            parts.append(f"{words}, shared bus {shared_as}" if shared_as else f"{words} of a bus of its own")
            continue
        words = ", ".join(
            f"{count} {NEED_WORDS[need][count > 1]}{' a position' if per_position else ''}"
            for (need, per_position), count in counted.items()
        )
        parts.append(f"{words}, shared as {shared_as}" if shared_as else words)
    return "; ".join(parts)


def component_lines(plan: Plan, kind: str = "", text: str = "") -> tuple[ComponentLine, ...]:
    """The components that suit a kind and hold a text, or all: the builder's own first, then the starter list."""
    uses, carried = _counts(plan)
    wanted = text.casefold().split()
    lines = [
        _line(plan, component, uses, carried)
        for component in plan.components.values()
        if (not kind or kind in kinds_of(component))
        and all(word in f"{component.code} {component.name} {component.note}".casefold() for word in wanted)
    ]
    return tuple(sorted(lines, key=lambda line: line.component.is_starter))


def component_kinds(plan: Plan) -> tuple[str, ...]:
    """Every kind that a component suits, in order of the alphabet."""
    return tuple(sorted({kind for component in plan.components.values() for kind in kinds_of(component)}))


def component_sheet(session: Session, plan: Plan, code: str) -> ComponentSheet | None:
    """Everything known of one component, or None where no component has this code."""
    component = next((c for c in plan.components.values() if c.code == code), None)
    if component is None:
        return None
    uses, carried = _counts(plan)
    insteads = plan.insteads.get(component.id or 0, ())
    return ComponentSheet(
        line=_line(plan, component, uses, carried),
        terminals=tuple(
            TerminalLine(t.name, ABILITY_NAMES.get(t.need, "no pin"), t.shared_as, t.per_position)
            for t in plan.terminals.get(component.id or 0, ())
        ),
        fewer_pins=tuple(_line(plan, plan.components[i], uses, carried) for i, s in insteads if s == "pins"),
        fewer_bytes=tuple(
            _line(plan, plan.components[i], uses, carried) for i, s in insteads if s == "bytes"
        ),
        uses=_uses(session, component),
        carried=tuple(
            CarriedLoad(plan.panels[load.panel_id].code, plan.panels[load.panel_id].name, load.count)
            for load in plan.panel_loads
            if load.component_id == component.id
        ),
    )


def _counts(plan: Plan) -> tuple[Counter[int], Counter[int]]:
    uses = Counter(f.component_id for f in plan.functions.values() if f.component_id is not None)
    carried: Counter[int] = Counter()
    for load in plan.panel_loads:
        carried[load.component_id] += load.count
    return uses, carried


def _line(plan: Plan, component: Component, uses: Counter[int], carried: Counter[int]) -> ComponentLine:
    component_id = component.id or 0
    figures = (
        (component.idle_ma, component.idle_mark),
        (component.typical_ma, component.typical_mark),
        (component.peak_ma, component.peak_mark),
    )
    return ComponentLine(
        component=component,
        kinds=kinds_of(component),
        terminals=terminal_words(plan.terminals.get(component_id, ())),
        rail=plan.rails.get(component.rail_id or 0),
        currents_mark=weakest(mark for figure, mark in figures if figure is not None),
        libraries=tuple(plan.libraries[i] for i in plan.component_libraries.get(component_id, ())),
        uses=uses[component_id],
        carried=carried[component_id],
    )


def _uses(session: Session, component: Component) -> tuple[ComponentUse, ...]:
    rows = session.execute(
        select(  # type: ignore[call-overload]  # more columns than its overloads count
            Function.code, Function.name, Panel.code, Board.code, Candidate.state, Candidate.reason
        )
        .join(Candidate, col(Candidate.function_id) == Function.id)
        .join(Panel, col(Panel.id) == Function.panel_id)
        .outerjoin(Board, col(Board.id) == Function.board_id)
        .where(Candidate.component_id == component.id)
        .order_by(Panel.code, Function.place, Function.id)
    ).all()
    uses = [
        ComponentUse(code, name, panel, board or "", state, reason)
        for code, name, panel, board, state, reason in rows
    ]
    return tuple(sorted(uses, key=lambda use: STATE_ORDER.index(use.state)))
