"""The plan as rows: all that the checks read, gathered in a fixed number of queries."""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, cast

from sqlalchemy import select as select_columns
from sqlmodel import Session, col, select

from app.tables import (
    Board,
    BoardBus,
    BoardModule,
    BusStrap,
    Candidate,
    Carrier,
    Component,
    ComponentInstead,
    ComponentLibrary,
    FirmwareBuild,
    Function,
    Library,
    MatrixContact,
    ModuleLimit,
    ModulePin,
    OutputState,
    Panel,
    PanelLoad,
    PinLeftOut,
    PinPlan,
    PinUse,
    Rail,
    Supply,
    Terminal,
)


@dataclass(frozen=True, slots=True)
class PanelRow:
    """A panel's id, code and name."""

    id: int
    code: str
    name: str


@dataclass(frozen=True, slots=True)
class FunctionRow:
    """What the checks need of a function, and the component chosen for it (None where none is)."""

    id: int
    code: str
    name: str
    kind: str
    panel_id: int
    board_id: int | None
    positions: int | None
    wiring_text: str
    component_id: int | None
    contact_least_ma: float | None = None
    contact_mark: str = "assumed"
    turns_a_s: float | None = None
    turns_mark: str = "assumed"
    read_by: str = ""


@dataclass(frozen=True)
class Plan:
    """Rows of the whole cockpit, by id; lists are in the builder's order. Nothing here is computed."""

    panels: Mapping[int, PanelRow]
    functions: Mapping[int, FunctionRow]
    components: Mapping[int, Component]
    terminals: Mapping[int, tuple[Terminal, ...]]
    libraries: Mapping[int, Library]
    component_libraries: Mapping[int, tuple[int, ...]]
    insteads: Mapping[int, tuple[tuple[int, str], ...]]
    boards: Mapping[int, Board]
    modules: Mapping[int, BoardModule]
    pins: Mapping[int, tuple[ModulePin, ...]]
    pin_uses: Mapping[int, tuple[PinUse, ...]]
    pin_plans: Mapping[int, PinPlan]
    left_out: Mapping[int, frozenset[int]]
    builds: Mapping[int, FirmwareBuild]
    panel_loads: tuple[PanelLoad, ...]
    rails: Mapping[int, Rail]
    supplies: Mapping[int, Supply]
    carriers: Mapping[int, Carrier]
    buses: Mapping[int, BoardBus]
    straps: Mapping[int, tuple[BusStrap, ...]]
    matrix_contacts: Mapping[int, tuple[MatrixContact, ...]]
    output_states: Mapping[int, OutputState]
    limits: Mapping[int, tuple[ModuleLimit, ...]]

    @cached_property
    def functions_by_board(self) -> Mapping[int, tuple[FunctionRow, ...]]:
        """The functions of each board, in list order."""
        by_board: dict[int, list[FunctionRow]] = defaultdict(list)
        for function in self.functions.values():
            if function.board_id is not None:
                by_board[function.board_id].append(function)
        return {board_id: tuple(rows) for board_id, rows in by_board.items()}

    @cached_property
    def functions_by_panel(self) -> Mapping[int, tuple[FunctionRow, ...]]:
        """The functions of each panel, in list order."""
        by_panel: dict[int, list[FunctionRow]] = defaultdict(list)
        for function in self.functions.values():
            by_panel[function.panel_id].append(function)
        return {panel_id: tuple(rows) for panel_id, rows in by_panel.items()}

    @cached_property
    def chosen_by_panel(self) -> Mapping[int, int]:
        """How many functions of each panel have a component chosen."""
        return Counter(f.panel_id for f in self.functions.values() if f.component_id is not None)

    @cached_property
    def kinds_by_panel(self) -> Mapping[int, tuple[str, ...]]:
        """The kinds of each panel's functions, in list order."""
        return {id_: tuple(f.kind for f in functions) for id_, functions in self.functions_by_panel.items()}

    def component_of(self, function: FunctionRow) -> Component | None:
        """The component chosen for a function."""
        return None if function.component_id is None else self.components[function.component_id]


def read_plan(session: Session) -> Plan:
    """The whole plan; the number of queries does not grow with the cockpit."""
    panels = {
        row[0]: PanelRow(*row)
        for row in session.exec(select(Panel.id, Panel.code, Panel.name).order_by(Panel.code)).all()
    }
    chosen = (
        select(Candidate.function_id, Candidate.component_id).where(Candidate.state == "chosen").subquery()
    )
    columns: list[Any] = [getattr(Function, name) for name in FunctionRow.__slots__ if name != "component_id"]
    columns.insert(FunctionRow.__slots__.index("component_id"), chosen.c.component_id)
    functions = {
        row[0]: FunctionRow(*row)
        for row in session.execute(
            select_columns(*columns)
            .join(Panel, col(Panel.id) == Function.panel_id)
            .outerjoin(chosen, chosen.c.function_id == Function.id)
            .order_by(col(Panel.code), col(Function.place), col(Function.id))
        ).all()
    }
    return Plan(
        panels=cast(Mapping[int, PanelRow], panels),
        functions=functions,
        components=_by_id(session, Component),
        terminals=_grouped(session, Terminal, "component_id", col(Terminal.place)),
        libraries=_by_id(session, Library),
        component_libraries=_pairs(
            session.exec(select(ComponentLibrary.component_id, ComponentLibrary.library_id)).all()
        ),
        insteads=_pairs(
            (component_id, (instead_id, saves))
            for component_id, instead_id, saves in session.exec(
                select(
                    ComponentInstead.component_id, ComponentInstead.instead_id, ComponentInstead.saves
                ).order_by(col(ComponentInstead.place))
            ).all()
        ),
        boards=_by_id(session, Board, col(Board.code)),
        modules=_by_id(session, BoardModule),
        pins=_grouped(session, ModulePin, "module_id", col(ModulePin.id)),
        pin_uses=_grouped(session, PinUse, "board_id", col(PinUse.id)),
        pin_plans={plan.board_id: plan for plan in session.exec(select(PinPlan)).all()},
        left_out={
            board_id: frozenset(ids)
            for board_id, ids in _pairs(
                session.exec(select(PinLeftOut.board_id, PinLeftOut.function_id)).all()
            ).items()
        },
        builds={
            build.board_id: build
            for build in session.exec(select(FirmwareBuild).order_by(col(FirmwareBuild.id))).all()
        },
        panel_loads=tuple(session.exec(select(PanelLoad)).all()),
        rails=_by_id(session, Rail, col(Rail.code)),
        supplies=_by_id(session, Supply, col(Supply.code)),
        carriers=_by_id(session, Carrier),
        buses={bus.board_id: bus for bus in session.exec(select(BoardBus)).all()},
        straps=_grouped(session, BusStrap, "board_id", col(BusStrap.id)),
        matrix_contacts=_grouped(
            session, MatrixContact, "board_id", col(MatrixContact.row), col(MatrixContact.column)
        ),
        output_states={state.function_id: state for state in session.exec(select(OutputState)).all()},
        limits=_grouped(session, ModuleLimit, "module_id", col(ModuleLimit.id)),
    )


def _by_id(session: Session, table: Any, *order: Any) -> Mapping[int, Any]:
    return {row.id: row for row in session.exec(select(table).order_by(*(order or (table.id,)))).all()}


def _grouped(session: Session, table: Any, column: str, *order: Any) -> Mapping[int, tuple[Any, ...]]:
    groups: dict[int, list[Any]] = defaultdict(list)
    for row in session.exec(select(table).order_by(*order)).all():
        groups[getattr(row, column)].append(row)
    return {key: tuple(rows) for key, rows in groups.items()}


def _pairs(rows: Any) -> Mapping[int, tuple[Any, ...]]:
    groups: dict[int, list[Any]] = defaultdict(list)
    for key, value in rows:
        groups[key].append(value)
    return {key: tuple(values) for key, values in groups.items()}
