"""Adding components, changing them with their terminals and libraries; taking an unused one away."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, delete, func, select

from app.calculations.pin_ability import ABILITY_FOR_NEED, NEEDS_WITHOUT_PIN
from app.calculations.pin_demand import MATRIX
from app.planning.board_pins import ABILITY_NAMES
from app.planning.edit import CodeTaken, code_is_free, save_row
from app.planning.pin_plan import solve_pins
from app.readers.function_kind import KINDS
from app.tables import (
    Board,
    Candidate,
    Component,
    ComponentInstead,
    ComponentLibrary,
    Function,
    PanelLoad,
    Terminal,
)

FUNCTION_KINDS: tuple[str, ...] = KINDS
"""The function kinds that a component may suit; the builder adds others."""

NEEDS: tuple[tuple[str, str], ...] = tuple(
    (need, ABILITY_NAMES.get(need, "no pin")) for need in (*ABILITY_FOR_NEED, *NEEDS_WITHOUT_PIN)
)
"""What a terminal may need of a board, each with its name."""


class ComponentInUse(Exception):
    """Functions or panels still name this component; the message counts them."""


class TerminalRefused(Exception):
    """A terminal is not well said; `place` counts from 0, `entry` is the part of it that is wrong."""

    def __init__(self, place: int, entry: str, message: str) -> None:
        super().__init__(message)
        self.place = place
        self.entry = entry


@dataclass(frozen=True, slots=True)
class TerminalEntry:
    """One terminal as it is entered."""

    name: str
    need: str
    shared_as: str = ""
    per_position: bool = False


@dataclass(frozen=True, slots=True)
class ComponentLinks:
    """What hangs on a component: its terminals in order, its libraries, and what does the same with less.

    `insteads` holds (saves, id of the other component), the usual one first; `saves` is "pins" or "bytes".
    """

    terminals: tuple[TerminalEntry, ...] = ()
    library_ids: tuple[int, ...] = ()
    insteads: tuple[tuple[str, int], ...] = ()


def try_terminals(terminals: Sequence[TerminalEntry]) -> None:
    """Make sure that terminals are well said.

    Raises:
        TerminalRefused: a name or a need is missing, a need is unknown, or a shared name cannot be kept.
    """
    known = {need for need, _ in NEEDS}
    for place, terminal in enumerate(terminals):
        if not terminal.name:
            raise TerminalRefused(place, "name", f"Terminal {place + 1} needs a name, such as coil 1.")
        if terminal.need not in known:
            raise TerminalRefused(
                place, "need", f"Say what terminal {place + 1} ({terminal.name}) needs of a board."
            )
        if terminal.shared_as and terminal.need in NEEDS_WITHOUT_PIN:
            raise TerminalRefused(
                place, "shared", f"Terminal {place + 1} ({terminal.name}) takes no pin of its own to share."
            )
        if terminal.shared_as == MATRIX:
            raise TerminalRefused(
                place, "shared", f"The name {MATRIX!r} is kept for the contact matrix; choose another."
            )


def add_component(session: Session, values: Mapping[str, Any], links: ComponentLinks) -> Component:
    """A new component; the caller commits.

    Raises:
        CodeTaken: another component has this id.
        TerminalRefused: a terminal is not well said.
    """
    if not code_is_free(session, Component, values["code"]):
        raise CodeTaken(f"{values['code']} is another component's id.")
    try_terminals(links.terminals)
    component = Component(**values)
    session.add(component)
    session.flush()
    _put_links(session, component, links)
    return component


def save_component(
    session: Session,
    component: Component,
    seen_version: int,
    values: Mapping[str, Any],
    links: ComponentLinks,
) -> tuple[str, ...]:
    """Write a component over the version that was seen; the caller commits.

    Where its terminals changed, the pins of the boards that use it are solved anew.

    Returns:
        The codes of the boards solved anew.

    Raises:
        EditedMeanwhile: it was saved since; nothing is written.
        CodeTaken: another component has this id.
        TerminalRefused: a terminal is not well said.
    """
    if not code_is_free(session, Component, values["code"], component.id):
        raise CodeTaken(f"{values['code']} is another component's id.")
    try_terminals(links.terminals)
    before = component_links(session, component)
    save_row(session, component, seen_version, values)
    if before != links:
        _put_links(session, component, links)
    if before.terminals == links.terminals:
        return ()
    boards = session.exec(
        select(Board.id, Board.code)
        .join(Function, col(Function.board_id) == Board.id)
        .join(Candidate, col(Candidate.function_id) == Function.id)
        .where(Candidate.component_id == component.id, Candidate.state == "chosen")
        .distinct()
        .order_by(Board.code)
    ).all()
    solve_pins(session, [id_ or 0 for id_, _ in boards])
    return tuple(code for _, code in boards)


def component_links(session: Session, component: Component) -> ComponentLinks:
    """What hangs on a component now."""
    terminals = session.exec(
        select(Terminal).where(Terminal.component_id == component.id).order_by(col(Terminal.place))
    ).all()
    libraries = session.exec(
        select(ComponentLibrary.library_id)
        .where(ComponentLibrary.component_id == component.id)
        .order_by(col(ComponentLibrary.library_id))
    ).all()
    insteads = session.exec(
        select(ComponentInstead.saves, ComponentInstead.instead_id)
        .where(ComponentInstead.component_id == component.id)
        .order_by(col(ComponentInstead.saves).desc(), col(ComponentInstead.place))
    ).all()
    return ComponentLinks(
        tuple(TerminalEntry(t.name, t.need, t.shared_as, t.per_position) for t in terminals),
        tuple(libraries),
        tuple((saves, instead_id) for saves, instead_id in insteads),
    )


def remove_component(session: Session, component: Component) -> None:
    """Take away a component that no function has weighed and no panel carries; the caller commits.

    Raises:
        ComponentInUse: functions or panels name it.
    """
    functions = session.exec(select(func.count()).where(col(Candidate.component_id) == component.id)).one()
    panels = session.exec(select(func.count()).where(col(PanelLoad.component_id) == component.id)).one()
    if functions or panels:
        raise ComponentInUse(
            f"{component.code} is chosen, weighed or rejected by {functions} functions and carried by {panels} "
            "panels; take it off them first."
        )
    _drop_links(session, component)
    session.exec(delete(ComponentInstead).where(col(ComponentInstead.instead_id) == component.id))
    session.delete(component)
    session.flush()


def _put_links(session: Session, component: Component, links: ComponentLinks) -> None:
    _drop_links(session, component)
    component_id = component.id or 0
    session.add_all(
        Terminal(
            component_id=component_id,
            place=place,
            name=terminal.name,
            need=terminal.need,
            shared_as=terminal.shared_as,
            per_position=terminal.per_position,
        )
        for place, terminal in enumerate(links.terminals)
    )
    session.add_all(
        ComponentLibrary(component_id=component_id, library_id=library_id)
        for library_id in dict.fromkeys(links.library_ids)
    )
    session.add_all(
        ComponentInstead(component_id=component_id, instead_id=instead_id, saves=saves, place=place)
        for place, (saves, instead_id) in enumerate(links.insteads)
    )
    session.flush()


def _drop_links(session: Session, component: Component) -> None:
    for table in (Terminal, ComponentLibrary, ComponentInstead):
        session.exec(delete(table).where(col(table.component_id) == component.id))
    session.flush()
