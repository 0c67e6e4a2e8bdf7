"""What is written down of the demo's boards: buses, matrices, links, identities, output states."""

from typing import Any

from sqlmodel import Session, select

from app.planning.board_entries import CONTACT_KINDS
from app.planning.board_matrix import matrix_functions
from app.planning.pin_plan import place_terminal
from app.planning.plan import read_plan
from app.tables import Board, BoardBus, Carrier, Function, MatrixContact, OutputState

# BD05: row 1 and row 2 as wired, diodes at the four of row 1 only.
BD05_ROWS = (("F063", "F064", "F065", "F072"), ("F073", "F078", "F079"))
SAME_SERIAL_NUMBER = ("BD03", "BD04", "BD06", "BD11")
BAUD_115200 = ("BD03", "BD05", "BD06")
# Values taken, bytes each, times a second.
LINK_LOAD = {"BD05": (19, 8, 60.0)}
# Handle switches of silver contacts: least current that keeps them clean.
SILVER_CONTACTS = ("F065", "F103", "F105")
SILVER_LEAST_MA = 10.0
# Every other switch of the demo has gold contacts.
GOLD_LEAST_MA = 0.01
# The resistors at the inputs of an input shift register, which has none inside.
REGISTER_PULL_UP_OHM = 10_000.0
# Wired to a pin that the chip reads at start-up: board, pin, function, terminal.
START_UP_PIN = ("BD12", "GPIO12", "F167", "contact")
# Knobs turned fast and read in the loop; every other knob of the demo is read by interrupt.
LOOP_KNOBS = ("F131", "F133", "F135")
FAST_TURNS_A_S, USUAL_TURNS_A_S = 5.0, 2.0
OUTPUT_KINDS = ("needle", "slide", "drum", "light", "display", "holding switch")


def load_board_records(session: Session, scenario: dict[str, Any]) -> None:
    """Enter what the scenario says of boards beyond their functions; the caller commits."""
    boards = {board.code: board for board in session.exec(select(Board)).all()}
    functions = {function.code: function for function in session.exec(select(Function)).all()}
    for row in scenario["buses"]:
        session.add(
            BoardBus(
                board_id=boards[row["board"]].id or 0,
                clock_khz=float(row["khz"]),
                run_m=float(row["run_m"]),
                pull_up_ohm_each=float(row["pullup_ohm"]),
            )
        )
    for board in boards.values():
        board.baud = 115_200 if board.code in BAUD_115200 else 57_600
        values, size, rate = LINK_LOAD.get(board.code, (0, 0, 0.0))
        if not values:
            values, size, rate = _usual_load(board, functions)
        board.link_values, board.link_value_bytes, board.link_values_a_s = values, size, rate
        board.has_bus_time_limit = True
        board.has_watchdog = True
        board.signal_loss_s = 2.0
        board.serial_number = "0001" if board.code in SAME_SERIAL_NUMBER else f"demo-{board.code.lower()}"
        board.identity = "serial number"
        session.add(board)
    for code, function in functions.items():
        if function.kind in CONTACT_KINDS:
            function.contact_least_ma = SILVER_LEAST_MA if code in SILVER_CONTACTS else GOLD_LEAST_MA
        if function.kind == "encoder":
            function.turns_a_s = FAST_TURNS_A_S if code in LOOP_KNOBS else USUAL_TURNS_A_S
            function.read_by = "loop" if code in LOOP_KNOBS else "interrupt"
        if function.kind in OUTPUT_KINDS:
            session.add(
                OutputState(
                    function_id=function.id or 0,
                    power_up="off",
                    reset="off",
                    upload="off",
                    signal_loss="off",
                    is_held_by_hardware=True,
                )
            )
        session.add(function)
    register = session.exec(select(Carrier).where(Carrier.code == "input-register")).one()
    register.input_pull_up_ohm = register.input_pull_up_weakest_ohm = REGISTER_PULL_UP_OHM
    session.add(register)
    session.flush()
    _load_matrices(session, boards)
    board_code, pin, function_code, terminal = START_UP_PIN
    place_terminal(session, boards[board_code], pin, function_code, terminal)


def _usual_load(board: Board, functions: dict[str, Function]) -> tuple[int, int, float]:
    """The values shown by a board, two bytes each, thirty times a second for needles and ten for the rest."""
    shown = [f for f in functions.values() if f.board_id == board.id and f.kind in OUTPUT_KINDS]
    has_needles = any(f.kind in ("needle", "slide", "drum") for f in shown)
    return len(shown), 2, 30.0 if has_needles else 10.0


def _load_matrices(session: Session, boards: dict[str, Board]) -> None:
    plan = read_plan(session)
    for board in boards.values():
        contacts: list[tuple[int, int]] = []  # function and position, in list order
        for function in matrix_functions(plan, board):
            number = (function.positions or 1) if function.kind == "selector" else 1
            contacts += [(function.id, position) for position in range(1, number + 1)]
        if not contacts:
            continue
        if board.code == "BD05":
            by_code = {function.code: function.id for function in matrix_functions(plan, board)}
            for row, codes in enumerate(BD05_ROWS, start=1):
                for column, code in enumerate(codes, start=1):
                    _add(session, board, by_code[code], 1, row, column, has_diode=row == 1)
            continue
        columns = {7: 4, 11: 4, 6: 3}[len(contacts)]
        for place, (function_id, position) in enumerate(contacts):
            _add(
                session,
                board,
                function_id,
                position,
                place // columns + 1,
                place % columns + 1,
                has_diode=True,
            )
    session.flush()


def _add(
    session: Session, board: Board, function_id: int, position: int, row: int, column: int, *, has_diode: bool
) -> None:
    session.add(
        MatrixContact(
            board_id=board.id or 0,
            function_id=function_id,
            position=position,
            row=row,
            column=column,
            diode="row to column" if has_diode else "",
        )
    )
