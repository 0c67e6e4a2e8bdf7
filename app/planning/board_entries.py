"""What is written down of a board beyond its functions: its link, bus, matrix, knobs, contacts, outputs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, delete, select

from app.planning.board_bus import Device, bus_devices
from app.planning.board_matrix import matrix_functions
from app.planning.board_pins import contacts_of
from app.planning.plan import FunctionRow, Plan
from app.tables import Board, BoardBus, BusStrap, Function, MatrixContact, OutputState

OUTPUT_KINDS = frozenset(
    {"needle", "slide", "drum", "light", "display", "holding switch", "sounder", "backlight"}
)
CONTACT_KINDS = frozenset({"switch", "selector", "button", "holding switch"})
STATES = ("off", "on", "as it was")
CASES = ("power_up", "reset", "upload", "signal_loss")
DIODES = ("row to column", "column to row")


class EntryRefused(ValueError):
    """An entry cannot stand; `field` names it and the message says what would be right."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True, slots=True)
class ContactPlace:
    """One contact of the matrix and where it sits, None where not entered."""

    function: FunctionRow
    position: int
    several: bool
    row: int | None
    column: int | None
    diode: str

    @property
    def key(self) -> str:
        """The word of its fields in a form."""
        return f"{self.function.code}-{self.position}"


@dataclass(frozen=True, slots=True)
class BoardEntries:
    """All that can be written down of one board, as it stands."""

    bus: BoardBus | None
    devices: tuple[Device, ...]
    contacts: tuple[ContactPlace, ...]
    knobs: tuple[FunctionRow, ...]
    switches: tuple[FunctionRow, ...]
    outputs: tuple[tuple[FunctionRow, OutputState | None], ...]


def board_entries(plan: Plan, board: Board) -> BoardEntries:
    """What is written down of a board; reads the plan only."""
    functions = plan.functions_by_board.get(board.id or 0, ())
    return BoardEntries(
        bus=plan.buses.get(board.id or 0),
        devices=bus_devices(plan, board),
        contacts=_contacts(plan, board),
        knobs=tuple(f for f in functions if f.kind == "encoder"),
        switches=tuple(f for f in functions if f.kind in CONTACT_KINDS),
        outputs=tuple((f, plan.output_states.get(f.id)) for f in functions if f.kind in OUTPUT_KINDS),
    )


def _contacts(plan: Plan, board: Board) -> tuple[ContactPlace, ...]:
    held = {(c.function_id, c.position): c for c in plan.matrix_contacts.get(board.id or 0, ())}
    places = []
    for function in matrix_functions(plan, board):
        number = contacts_of(function) or 1
        for position in range(1, number + 1):
            contact = held.get((function.id, position))
            places.append(
                ContactPlace(
                    function=function,
                    position=position,
                    several=number > 1,
                    row=contact.row if contact else None,
                    column=contact.column if contact else None,
                    diode=contact.diode if contact else "",
                )
            )
    return tuple(places)


def keep_bus(
    session: Session, board: Board, figures: Mapping[str, object], straps: Mapping[str, int]
) -> None:
    """Keep a board's bus figures and the addresses its devices are strapped to; the caller commits."""
    bus = session.get(BoardBus, board.id) or BoardBus(board_id=board.id or 0)
    for name, value in figures.items():
        setattr(bus, name, value)
    bus.version += 1
    session.add(bus)
    session.exec(delete(BusStrap).where(col(BusStrap.board_id) == board.id))
    session.add_all(
        BusStrap(board_id=board.id or 0, device=device, address=address) for device, address in straps.items()
    )
    session.flush()


def keep_matrix(session: Session, board: Board, places: Sequence[ContactPlace]) -> None:
    """Keep where the contacts of a board's matrix sit; the caller commits.

    Raises:
        EntryRefused: two contacts at one place.
    """
    taken: dict[tuple[int, int], ContactPlace] = {}
    for place in places:
        if place.row is None or place.column is None:
            continue
        other = taken.setdefault((place.row, place.column), place)
        if other is not place:
            raise EntryRefused(
                f"row-{place.key}",
                f"{place.function.code} and {other.function.code} both sit at row {place.row}, "
                f"column {place.column}; each contact has a place of its own.",
            )
    session.exec(delete(MatrixContact).where(col(MatrixContact.board_id) == board.id))
    session.add_all(
        MatrixContact(
            board_id=board.id or 0,
            function_id=place.function.id,
            position=place.position,
            row=place.row,
            column=place.column,
            diode=place.diode,
        )
        for place in places
        if place.row is not None and place.column is not None
    )
    session.flush()


def keep_function_figures(session: Session, figures: Mapping[int, Mapping[str, object]]) -> None:
    """Keep figures of functions by function id (turns, how a knob is read, least contact current)."""
    for function in session.exec(select(Function).where(col(Function.id).in_(list(figures)))).all():
        for name, value in figures[function.id or 0].items():
            setattr(function, name, value)
        function.version += 1
        session.add(function)
    session.flush()


def keep_output_states(session: Session, states: Mapping[int, Mapping[str, object]]) -> None:
    """Keep what outputs do in the four cases, by function id; the caller commits."""
    held = {
        state.function_id: state
        for state in session.exec(
            select(OutputState).where(col(OutputState.function_id).in_(list(states)))
        ).all()
    }
    for function_id, values in states.items():
        state = held.get(function_id) or OutputState(function_id=function_id)
        for name, value in values.items():
            setattr(state, name, value)
        session.add(state)
    session.flush()
