"""What must be written down of a board: bus time limit, watchdog, signal loss, states of its outputs (D5, D6, D9)."""

from collections.abc import Sequence

from app import units
from app.planning.board_bus import bus_devices
from app.planning.board_entries import CASES, OUTPUT_KINDS
from app.planning.board_pins import about_board
from app.planning.finding import Finding
from app.planning.function_names import function_names
from app.planning.plan import FunctionRow, Plan
from app.tables import Board, OutputState

BUS_SOURCE = (
    "usual bus code waits for ever when noise upsets the bus; 9 to 20 clock pulses free a stuck line: common practice, "
    "the pulses by UM10204, 3.1.16"
)
WATCHDOG_SOURCE = (
    "a stopped program leaves a coil or motor as it was, at full current: common practice asks for a watchdog"
)
STATE_SOURCE = (
    "what moves mass or heats is off by hardware, not by code, until the program runs: common practice"
)

MOVING_KINDS = frozenset({"needle", "slide", "drum", "holding switch"})
"""Kinds that move mass or hold a coil."""
CASE_WORDS = {"power_up": "power-up", "reset": "reset", "upload": "upload", "signal_loss": "signal loss"}
OFF_CASES = ("power_up", "reset", "upload")


def record_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """What a board's record says and lacks; nothing of what the board does not have."""
    return (
        *_bus_limit_findings(plan, board),
        *_failsafe_findings(plan, board),
        *_state_findings(plan, board),
    )


def _bus_limit_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """The time limit of the bus code: required where motors share the board or one of its panels (D5)."""
    devices = bus_devices(plan, board)
    if not devices:
        return ()
    panels = {function.panel_id for function in plan.functions_by_board.get(board.id or 0, ())}
    motors = [f for id_ in panels for f in plan.functions_by_panel.get(id_, ()) if f.kind in MOVING_KINDS]
    beside = "one motor or coil" if len(motors) == 1 else f"{len(motors)} motors or coils"
    shared = f"shares its panels with {beside}" if motors else "has no motor beside it"
    bus = f"{board.code}'s bus of {len(devices)} device{'' if len(devices) == 1 else 's'}"
    if board.has_bus_time_limit is None:
        verdict = "cannot tell"
        sentence = f"{bus} {shared}; nothing is written of a time limit in its code"
    elif board.has_bus_time_limit:
        verdict = "fine"
        sentence = f"{bus} {shared} and its code has a time limit"
    elif motors:
        verdict = "stop"
        sentence = f"{bus} {shared} and its code has no time limit: one upset stops the whole board"
    else:
        verdict = "caution"
        sentence = f"{bus} has no time limit in its code: one dead device stops the whole board"
    remedies = (
        "Set a time limit of 25 ms in the bus code, and free a stuck line with 9 to 20 clock pulses.",
        "A reset line or a power switch for the modules: 1 output.",
    )
    return (
        _finding(
            plan,
            board,
            verdict,
            sentence,
            remedies if verdict in ("stop", "caution") else (),
            BUS_SOURCE,
        ),
    )


def _failsafe_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """Watchdog where motors or coils are driven, signal-loss time where anything is shown (D9).

    Numerals on a segment driver chip do not count: the chip goes on by itself when the program stops.
    """
    functions = plan.functions_by_board.get(board.id or 0, ())
    outputs = [function for function in functions if function.kind in OUTPUT_KINDS]
    coils = [function for function in functions if function.kind in MOVING_KINDS]
    if not outputs:
        return ()
    missing = ["the signal-loss time"] if board.signal_loss_s is None else []
    if coils and board.has_watchdog is None:
        missing.append("whether the watchdog is on")
    driven = f"{board.code} drives {len(outputs)} output{'' if len(outputs) == 1 else 's'}"
    if coils:
        driven += f", {len(coils)} of them {'a motor or coil' if len(coils) == 1 else 'motors or coils'}"
    parts = []
    if coils and board.has_watchdog is not None:
        parts.append(f"its watchdog is {'on' if board.has_watchdog else 'off'}")
    if board.signal_loss_s is not None:
        parts.append(f"it acts {units.show(board.signal_loss_s, 's')} after the signal is lost")
    is_stop = bool(coils) and board.has_watchdog is False
    verdict = "stop" if is_stop else "cannot tell" if missing else "fine"
    sentence = driven + (f"; {' and '.join(parts)}" if parts else "")
    if missing:
        sentence += f"; not entered: {', '.join(missing)}"
    return (
        _finding(
            plan,
            board,
            verdict,
            sentence,
            (
                "Turn the watchdog on, at 1 to 2 s: a stopped program restarts and its outputs go off.",
                f"Enable lines of the {len(coils)} drivers held off by a pull resistor and kept on by the loop.",
            )
            if is_stop
            else (),
            WATCHDOG_SOURCE,
            coils if is_stop else (),
            "assumed" if board.signal_loss_s is not None else None,
        ),
    )


def _state_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """Each output has its four cases written; what moves mass or heats is off by hardware in the first three (D6)."""
    functions = plan.functions_by_board.get(board.id or 0, ())
    outputs = [function for function in functions if function.kind in OUTPUT_KINDS]
    if not outputs:
        return ()
    findings = []
    on: list[FunctionRow] = []
    by_code: list[FunctionRow] = []
    unwritten: list[FunctionRow] = []
    for function in outputs:
        state = plan.output_states.get(function.id)
        if function.kind in MOVING_KINDS and state is not None:
            if any(getattr(state, case) not in ("off", "") for case in OFF_CASES):
                on.append(function)
            elif all(getattr(state, case) for case in OFF_CASES) and not state.is_held_by_hardware:
                by_code.append(function)
        if state is None or not all(getattr(state, case) for case in CASES):
            unwritten.append(function)
    if on or by_code:
        wrong = [*on, *by_code]
        told = [f"{function_names(on)} not off {_when(plan, on)}"] if on else []
        told += [f"{function_names(by_code)} off by the program only"] if by_code else []
        findings.append(
            _finding(
                plan,
                board,
                "stop",
                f"On {board.code} {' and '.join(told)}: what moves is off by hardware until the program runs",
                (
                    f"A pull resistor of 10 kohm at the {len(wrong)} enable or signal "
                    f"line{'' if len(wrong) == 1 else 's'}, so that {'it is' if len(wrong) == 1 else 'they are'} "
                    "off at power-up, reset and upload.",
                ),
                STATE_SOURCE,
                wrong,
            )
        )
    if unwritten:
        findings.append(
            _finding(
                plan,
                board,
                "cannot tell",
                f"What {len(unwritten)} of {board.code}'s {len(outputs)} outputs do at power-up, reset, upload and "
                f"signal loss is not all written: {function_names(unwritten)}",
                (),
                STATE_SOURCE,
                unwritten,
            )
        )
    if not findings:
        moving = sum(1 for function in outputs if function.kind in MOVING_KINDS)
        sentence = (
            f"{board.code} has the state of {len(outputs)} output{'' if len(outputs) == 1 else 's'} written for the "
            "four cases"
        )
        if moving:
            sentence += f"; {moving} of them move{'s' if moving == 1 else ''}, off by hardware"
        findings.append(_finding(plan, board, "fine", sentence, (), STATE_SOURCE))
    return tuple(findings)


def _when(plan: Plan, functions: Sequence[FunctionRow]) -> str:
    """The cases in which any of these outputs, each with a state written, is not off."""
    states: list[OutputState] = [plan.output_states[f.id] for f in functions]
    cases = [c for c in OFF_CASES if any(getattr(state, c) not in ("off", "") for state in states)]
    return f"at {' and '.join(CASE_WORDS[case] for case in cases)}"


def _finding(
    plan: Plan,
    board: Board,
    verdict: str,
    sentence: str,
    remedies: tuple[str, ...],
    source: str,
    functions: Sequence[FunctionRow] = (),
    mark: str | None = None,
) -> Finding:
    return Finding(
        verdict=verdict,  # type: ignore[arg-type]  # one of the literals
        about=about_board(plan, board, functions),
        sentence=sentence + ".",
        remedies=remedies,
        source_mark=mark,
        source=source,
        mend_at=f"/boards/{board.code}/record",
        mend_word="Write it down" if verdict == "cannot tell" else "See the record",
    )
