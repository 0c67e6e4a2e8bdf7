"""The record of a board: its bus, matrix, link, knobs, contacts and what its outputs do when something fails."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.pages.boards import board_row
from app.pages.panels import said
from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import MARKS, Typed, TypedForm, typed_text
from app.planning.board_entries import (
    CASES,
    DIODES,
    STATES,
    BoardEntries,
    ContactPlace,
    EntryRefused,
    board_entries,
    keep_bus,
    keep_function_figures,
    keep_matrix,
    keep_output_states,
)
from app.planning.board_identity import IDENTITIES
from app.planning.cockpit_result import BoardResult
from app.planning.edit import EditedMeanwhile, save_row
from app.planning.finding import findings_about

router = APIRouter()

CASE_NAMES = {"power_up": "power-up", "reset": "reset", "upload": "upload", "signal_loss": "signal loss"}
YES_NO = (("yes", "yes"), ("no", "no"))
LINK_FIELDS = (
    "baud",
    "link_values",
    "link_value_bytes",
    "link_values_a_s",
    "link_mark",
    "has_bus_time_limit",
    "has_watchdog",
    "signal_loss_s",
    "serial_number",
    "identity",
    "version",
)
LINK_LABELS = {
    "baud": "Speed of the link, baud",
    "link_values": "Values taken",
    "link_value_bytes": "Bytes each",
    "link_values_a_s": "Times a second",
    "link_mark": "Source",
    "has_bus_time_limit": "Bus code has a time limit",
    "has_watchdog": "Watchdog is on",
    "signal_loss_s": "Signal-loss time, s",
    "serial_number": "Serial number",
    "identity": "Told apart by",
}


@router.get("/boards/{code}/record")
def show_record(request: Request, code: str) -> Response:
    """The board's record, each part with its own small form."""
    return record_page(request, code, Typed())


def record_page(
    request: Request, code: str, form: Typed, status: int = 200, both: object | None = None
) -> Response:
    """The record with a form as typed; fields not typed stand as kept."""
    result = cockpit_result(request)
    with session_of(request) as session:
        board = board_row(session, code)
        found = result.boards[board.code]
        entries = board_entries(result.plan, board)
        kept = _kept(found, entries)
        kept.values |= form.values
        kept.errors = form.errors
        return render(
            request,
            "board_record.html",
            board=board,
            result=found,
            rec=entries,
            form=kept,
            cases=CASE_NAMES,
            states=STATES,
            diodes=DIODES,
            identities=IDENTITIES,
            yes_no=YES_NO,
            source_marks=MARKS,
            both=both,
            found=findings_about(result.findings, "board", board.code),
            status=status,
        )


@router.post("/boards/{code}/record/link")
def save_link(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep the link, the safeguards and how the computer tells the board."""
    values: dict[str, Any] = {
        "baud": typed.whole("baud", "Speed", least=300, most=4_000_000),
        "link_values": typed.whole("link_values", "Values", most=100_000),
        "link_value_bytes": typed.whole("link_value_bytes", "Bytes each", least=1, most=10_000),
        "link_values_a_s": typed.quantity("link_values_a_s", "frequency_hz", "Times a second"),
        "link_mark": typed.mark("link_mark"),
        "has_bus_time_limit": _yes_no(typed, "has_bus_time_limit", "Time limit"),
        "has_watchdog": _yes_no(typed, "has_watchdog", "Watchdog"),
        "signal_loss_s": typed.quantity("signal_loss_s", "duration_s", "Signal-loss time"),
        "serial_number": typed.text("serial_number", "Serial number", longest=100),
        "identity": typed.choice("identity", "Told apart by", IDENTITIES),
    }
    with session_of(request) as session:
        board = board_row(session, code)
        if not typed.is_fine:
            return record_page(request, code, typed, status=422)
        try:
            save_row(session, board, typed.seen_version(), values)
        except EditedMeanwhile as error:
            typed.values["version"] = str(error.theirs["version"])
            both = (said(values, LINK_LABELS), said(error.theirs, LINK_LABELS))
            return record_page(request, code, typed, status=409, both=both)
        session.commit()
    return go_to(f"/boards/{code}/record", "The link is kept.")


@router.post("/boards/{code}/record/bus")
def save_bus(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep the bus figures and the address straps."""
    figures: dict[str, Any] = {
        "clock_khz": _khz(typed),
        "run_m": _metres(typed),
        "pull_up_ohm_each": typed.quantity("pull_up_ohm_each", "resistance_ohm", "Pull-up of each module"),
        "supply_v": typed.quantity("supply_v", "voltage_v", "Bus voltage"),
        "figures_mark": typed.mark("figures_mark"),
    }
    result = cockpit_result(request)
    with session_of(request) as session:
        board = board_row(session, code)
        straps: dict[str, int] = {}
        for device in board_entries(result.plan, board).devices:
            text = typed.value(f"strap-{device.key}")
            if text:
                options = [f"0x{address:02X}" for address in device.addresses]
                typed.choice(f"strap-{device.key}", device.name, options)
                straps[device.key] = int(text, 16) if text in options else 0
        if not typed.is_fine:
            return record_page(request, code, typed, status=422)
        keep_bus(session, board, figures, straps)
        session.commit()
    return go_to(f"/boards/{code}/record", "The bus is kept.")


@router.post("/boards/{code}/record/matrix")
def save_matrix(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep rows, columns and diodes of the matrix."""
    result = cockpit_result(request)
    with session_of(request) as session:
        board = board_row(session, code)
        places = []
        for contact in board_entries(result.plan, board).contacts:
            row = typed.whole(f"row-{contact.key}", f"Row of {contact.function.code}", least=1, most=64)
            column = typed.whole(
                f"column-{contact.key}", f"Column of {contact.function.code}", least=1, most=64
            )
            if (row is None) != (column is None):
                lacking = "column" if row is not None else "row"
                typed.refuse(f"{lacking}-{contact.key}", f"{contact.function.code} has no {lacking} yet.")
            diode = typed.choice(f"diode-{contact.key}", "Diode", DIODES)
            places.append(
                ContactPlace(contact.function, contact.position, contact.several, row, column, diode)
            )
        if typed.is_fine:
            try:
                keep_matrix(session, board, places)
            except EntryRefused as error:
                typed.refuse(error.field, str(error))
        if not typed.is_fine:
            return record_page(request, code, typed, status=422)
        session.commit()
    return go_to(f"/boards/{code}/record", "The matrix is kept.")


@router.post("/boards/{code}/record/functions")
def save_function_figures(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep how knobs are turned and read, and what keeps contacts clean."""
    result = cockpit_result(request)
    with session_of(request) as session:
        entries = board_entries(result.plan, board_row(session, code))
        figures: dict[int, dict[str, object]] = {}
        for knob in entries.knobs:
            turns = typed.quantity(f"turns-{knob.code}", "cost", f"Turns a second of {knob.code}")
            read_by = typed.choice(f"read-{knob.code}", "Read by", ("loop", "interrupt"))
            figures[knob.id] = {"turns_a_s": turns, "read_by": read_by}
        for switch in entries.switches:
            least = typed.quantity(f"least-{switch.code}", "current_ma", f"Least current of {switch.code}")
            figures.setdefault(switch.id, {})["contact_least_ma"] = least
        if not typed.is_fine:
            return record_page(request, code, typed, status=422)
        keep_function_figures(session, figures)
        session.commit()
    return go_to(f"/boards/{code}/record", "Knobs and contacts are kept.")


@router.post("/boards/{code}/record/outputs")
def save_outputs(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep what each output does in the four cases; a state for all fills the ones left open."""
    result = cockpit_result(request)
    with session_of(request) as session:
        entries = board_entries(result.plan, board_row(session, code))
        states: dict[int, dict[str, object]] = {}
        for function, _ in entries.outputs:
            values: dict[str, object] = {}
            for case in CASES:
                for_all = typed.choice(f"all-{case}", CASE_NAMES[case], STATES)
                values[case] = typed.choice(f"{case}-{function.code}", CASE_NAMES[case], STATES) or for_all
            values["is_held_by_hardware"] = typed.flag(f"held-{function.code}")
            states[function.id] = values
        if not typed.is_fine:
            return record_page(request, code, typed, status=422)
        keep_output_states(session, states)
        session.commit()
    return go_to(f"/boards/{code}/record", "The outputs' states are kept.")


def _kept(found: BoardResult, entries: BoardEntries) -> Typed:
    """The record as it stands, as the fields of one form."""
    board = found.board
    values = {name: typed_text(getattr(board, name)) for name in LINK_FIELDS}
    for name in ("has_bus_time_limit", "has_watchdog"):
        values[name] = {True: "yes", False: "no", None: ""}[getattr(board, name)]
    bus = entries.bus
    if bus is not None:
        values |= {
            "clock_khz": typed_text(bus.clock_khz),
            "run_m": typed_text(bus.run_m),
            "pull_up_ohm_each": typed_text(bus.pull_up_ohm_each),
            "supply_v": typed_text(bus.supply_v),
            "figures_mark": bus.figures_mark,
        }
    for device in entries.devices:
        values[f"strap-{device.key}"] = f"0x{device.set_at:02X}" if device.set_at is not None else ""
    for contact in entries.contacts:
        values[f"row-{contact.key}"] = typed_text(contact.row)
        values[f"column-{contact.key}"] = typed_text(contact.column)
        values[f"diode-{contact.key}"] = contact.diode
    for knob in entries.knobs:
        values[f"turns-{knob.code}"] = typed_text(knob.turns_a_s)
        values[f"read-{knob.code}"] = knob.read_by
    for switch in entries.switches:
        values[f"least-{switch.code}"] = typed_text(switch.contact_least_ma)
    for function, state in entries.outputs:
        for case in CASES:
            values[f"{case}-{function.code}"] = getattr(state, case) if state else ""
        values[f"held-{function.code}"] = "yes" if state and state.is_held_by_hardware else ""
    return Typed(values)


def _yes_no(typed: Typed, name: str, label: str) -> bool | None:
    return {"yes": True, "no": False}.get(typed.choice(name, label, ("yes", "no")))


def _khz(typed: Typed) -> float | None:
    """The clock in kHz: a bare number is kHz, with a unit as typed."""
    text = typed.value("clock_khz").strip()
    if text and text[-1].isdigit():
        typed.values["clock_khz"] = text = f"{text} kHz"
    hertz = typed.quantity("clock_khz", "frequency_hz", "Clock")
    if hertz is not None and not 1_000 <= hertz <= 1_000_000:
        typed.refuse("clock_khz", "The clock of a two-wire bus is from 1 kHz to 1,000 kHz.")
    return hertz / 1000 if hertz is not None else None


def _metres(typed: Typed) -> float | None:
    """The run in metres: a bare number is metres, with a unit as typed."""
    text = typed.value("run_m").strip()
    if text and text[-1].isdigit():
        typed.values["run_m"] = text = f"{text} m"
    length_mm = typed.quantity("run_m", "length_mm", "Run")
    return length_mm / 1000 if length_mm is not None else None
