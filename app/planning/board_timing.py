"""Time on a board: serial bytes lost, the loop against its knobs, and the load of its link (D3, D4, C10, J6)."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

from app import units
from app.calculations.blocked_time import ANALOGUE_READ_MS, BlockingCall, PixelBlock, loop_pass, pixel_block
from app.calculations.encoder_rate import EncoderRate, encoder_rate
from app.calculations.serial_load import Message, SerialLoad, serial_load
from app.calculations.source_mark import weakest
from app.calculations.two_wire_bus import CLOCKS_PER_BYTE
from app.planning.board_bus import BoardBusResult, board_bus
from app.planning.board_pins import about_board
from app.planning.finding import Finding, percent
from app.planning.function_names import function_codes, function_names
from app.planning.plan import FunctionRow, Plan
from app.tables import Board, Component

PIXEL_SOURCE = (
    "a receiver holds two bytes by itself (ATmega data sheets) while pixels go out with interrupts off, "
    "24 bits of 1.25 us each (data sheets of such pixels)"
)
KNOB_SOURCE = "two looks at a knob for every change of its contacts: common practice"
LINK_SOURCE = "ten bits a byte; at most 70 % of a line, since bursts need the rest: common practice"
PIXEL_LIBRARY = "pixels"
PIXELS, READINGS = "pixels", "analogue readings"
LIGHTS_A_REGISTER = 8
HAIR = 1e-9
OVERHEAD_BYTES = 2  # address and control byte of a piece of picture


def timing_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """What is said of a board's time; nothing of what it does not have.

    Pixels hold up a board whose link goes through a port chip; one that has the port inside or talks by radio
    sends them with its own engine and has no baud rate to lose bytes at.
    """
    return (*_pixel_findings(plan, board), *_knob_findings(plan, board), *_link_findings(plan, board))


# Pixels against serial bytes (D4)


def pixel_functions(plan: Plan, board: Board) -> list[FunctionRow]:
    """The addressable pixels of a board: what holds interrupts off while sent, or is driven by their library."""
    return [
        function
        for function in plan.functions_by_board.get(board.id or 0, ())
        if (component := plan.component_of(function)) is not None and _is_pixel(plan, component)
    ]


def _is_pixel(plan: Plan, component: Component) -> bool:
    libraries = plan.component_libraries.get(component.id or 0, ())
    return component.blocked_us is not None or any(
        plan.libraries[id_].code == PIXEL_LIBRARY for id_ in libraries
    )


def _pixel_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    pixels = pixel_functions(plan, board)
    if not pixels or plan.modules[board.module_id].link != "port chip":
        return ()
    components = [component for f in pixels if (component := plan.component_of(f)) is not None]
    unknown = list(dict.fromkeys(c.name for c in components if c.blocked_us is None))
    blocked_us = sum(c.blocked_us or 0.0 for c in components)
    baud = board.baud or None
    each_us = blocked_us / len(pixels)
    block = pixel_block(len(pixels), baud, pixel_us=each_us) if each_us > 0 else pixel_block(0, baud)
    verdict = block.verdict
    if unknown and verdict == "fine":
        verdict = "cannot tell"
    chain = f"{len(pixels)} pixel{'' if len(pixels) == 1 else 's'}"
    sentence = (
        f"Sending {board.code}'s {chain} holds its interrupts off for {units.show(blocked_us, 'us', 0)}"
    )
    if block.allowed_us is not None and baud is not None:
        sentence += f", and at {units.show(baud, 'baud')} {units.show(block.allowed_us, 'us', 0)} is allowed"
    if verdict == "stop":
        sentence += f": up to {block.bytes_lost} byte{'' if block.bytes_lost == 1 else 's'} lost each time"
    missing = [f"how long {name} is sent" for name in unknown] + ["the speed of the link"] * (baud is None)
    if missing:
        sentence += f"; not entered: {', '.join(missing)}"
    return (
        Finding(
            verdict=verdict,  # type: ignore[arg-type]  # one of the literals
            about=about_board(plan, board, pixels if verdict == "stop" else ()),
            sentence=sentence + ".",
            remedies=_pixel_remedies(board, len(pixels), block) if verdict == "stop" else (),
            source_mark=weakest([*(c.electrical_mark for c in components), board.link_mark]),
            source=PIXEL_SOURCE,
            mend_at=f"/boards/{board.code}/record",
            mend_word="See the board's link",
        ),
    )


def _pixel_remedies(board: Board, pixels: int, block: PixelBlock) -> tuple[str, ...]:
    remedies = ["Send pixels only while the line is quiet: the sender waits until the board asks for more."]
    if block.fastest_baud is not None:
        remedy = f"A link of {units.show(block.fastest_baud, 'baud')} at most"
        slower = serial_load([_values(board)], block.fastest_baud)
        if not slower.missing and slower.share is not None:
            remedy += (
                f"; its {units.show(slower.bytes_per_s, 'bytes')}/s then take {percent(slower.share)} of it"
            )
        remedies.append(remedy + ".")
    if block.most_pixels:
        chips = ceil((pixels - block.most_pixels) / LIGHTS_A_REGISTER)
        remedies.append(
            f"{block.most_pixels} pixels at most here, and the other {pixels - block.most_pixels} lights on "
            f"{chips} driver chip{'' if chips == 1 else 's'} of {LIGHTS_A_REGISTER}."
        )
    remedies.append("A board whose chip sends pixels by hardware: interrupts are held off for 0 us.")
    return tuple(remedies)


# The loop against its knobs (D3, C10)


@dataclass(frozen=True, slots=True)
class _Knob:
    """A knob, its rate against the time in which nothing looks at it, and what is missing."""

    function: FunctionRow
    rate: EncoderRate
    missing: tuple[str, ...]
    verdict: str


def _knob_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """Display redraws, pixels and analogue readings of a pass against the knobs looked at in the loop.

    A knob read by interrupt waits for nothing but pixels that hold interrupts off. What a timer does, steps of
    motors among it, has no deadline here.
    """
    functions = plan.functions_by_board.get(board.id or 0, ())
    knobs = [f for f in functions if f.kind == "encoder" and f.component_id is not None]
    if not knobs:
        return ()
    bus = board_bus(plan, board)
    held_off_ms = _interrupts_off_ms(plan, board)
    analogue = _analogue_readings(plan, functions)
    calls = [
        *_redraw_calls(bus),
        BlockingCall(PIXELS, held_off_ms),
        BlockingCall(READINGS, ANALOGUE_READ_MS, analogue),
    ]
    whole = loop_pass(calls, ())
    read = [_knob(plan, knob, whole.total_ms, held_off_ms) for knob in knobs]
    is_looped = any(k.function.read_by != "interrupt" for k in read)
    missing = list(dict.fromkeys(name for knob in read for name in knob.missing))
    missing += [_missing_redraw(bus, name) for name in whole.missing] if is_looped else []
    late = [knob for knob in read if knob.verdict == "stop"]
    verdict = "stop" if late else "cannot tell" if missing else "fine"
    told = [call for call in calls if call.time_ms and call.count]
    sentence = _knob_sentence(board, read, late, told, whole.total_ms)
    if missing:
        sentence += f"; not entered: {', '.join(dict.fromkeys(missing))}"
    marks = [_bus_mark(bus)] if bus.redraws else []
    for knob in read:
        component = plan.component_of(knob.function)
        marks += [knob.function.turns_mark, component.electrical_mark if component else "assumed"]
    return (
        Finding(
            verdict=verdict,  # type: ignore[arg-type]  # one of the literals
            about=about_board(plan, board, [k.function for k in late]),
            sentence=sentence + ".",
            remedies=_knob_remedies(late, bus) if late else (),
            source_mark=weakest(marks),
            source=KNOB_SOURCE,
            mend_at=f"/boards/{board.code}/record",
            mend_word="See how the knobs are read",
        ),
    )


def _bus_mark(bus: BoardBusResult) -> str:
    """The source mark of a bus's figures."""
    return bus.settings.figures_mark if bus.settings else "assumed"


def _interrupts_off_ms(plan: Plan, board: Board) -> float:
    if plan.modules[board.module_id].link != "port chip":
        return 0.0
    components = [plan.component_of(function) for function in pixel_functions(plan, board)]
    return sum((c.blocked_us or 0.0) for c in components if c is not None) / 1000


def _analogue_readings(plan: Plan, functions: Sequence[FunctionRow]) -> int:
    return sum(
        1
        for function in functions
        for terminal in plan.terminals.get(function.component_id or 0, ())
        if terminal.need == "analogue"
    )


def _redraw_calls(bus: BoardBusResult) -> list[BlockingCall]:
    times = {redraw.device.key: redraw.time_ms for redraw in bus.redraws}
    return [
        BlockingCall(device.key, times.get(device.key))
        for device in bus.devices
        if device.redraw_bytes or any(function.kind == "display" for function in device.functions)
    ]


def _missing_redraw(bus: BoardBusResult, key: str) -> str:
    device = next(device for device in bus.devices if device.key == key)
    return "the clock of the bus" if device.redraw_bytes else f"the bytes of a redraw of {device.name}"


def _knob(plan: Plan, knob: FunctionRow, pass_ms: float, held_off_ms: float) -> _Knob:
    component = plan.component_of(knob)
    clicks = component.clicks_a_turn if component else None
    changes = component.changes_a_click if component else None
    blocked_ms = held_off_ms if knob.read_by == "interrupt" else pass_ms
    rate = encoder_rate(
        knob.turns_a_s or None,
        round(clicks) if clicks else None,
        round(changes) if changes else None,
        blocked_ms=blocked_ms,
    )
    missing = [f"{name} of {knob.code}" for name in rate.missing]
    verdict = rate.verdict
    if knob.read_by == "" and not missing and verdict == "stop":
        by_interrupt = held_off_ms >= (rate.longest_blocked_ms or 0.0)
        if not by_interrupt:
            verdict = "cannot tell"
            missing.append(f"whether {knob.code} is read in the loop or by interrupt")
    return _Knob(knob, rate, tuple(missing), verdict)


def _knob_sentence(
    board: Board,
    read: Sequence[_Knob],
    late: Sequence[_Knob],
    told: Sequence[BlockingCall],
    pass_ms: float,
) -> str:
    held = f"A pass of {board.code}'s loop is held up for {units.show(pass_ms, 'ms', 2)}"
    if told:
        held += f" ({_calls(told)})"
    if late:
        tightest = _tightest(late)
        return (
            f"{held}, while its knob{'' if len(late) == 1 else 's'} {function_codes([k.function for k in late])} "
            f"can change {tightest.changes_per_s or 0:g} times a second and "
            f"may wait {units.show(tightest.longest_blocked_ms or 0.0, 'ms', 2)} at most"
        )
    looped = [k for k in read if k.function.read_by != "interrupt"]
    if not looped:
        return f"{held}, but its {len(read)} knob{' is' if len(read) == 1 else 's are'} read by interrupt"
    known = [k for k in looped if k.rate.longest_blocked_ms is not None]
    if not known:
        return held
    wait = units.show(_tightest(known).longest_blocked_ms or 0.0, "ms", 2)
    return f"{held}, and its knobs {function_codes([k.function for k in looped])} may wait {wait}"


def _tightest(knobs: Sequence[_Knob]) -> EncoderRate:
    return min((k.rate for k in knobs), key=lambda rate: rate.longest_blocked_ms or 0.0)


def _calls(told: Sequence[BlockingCall]) -> str:
    words = []
    redraws = Counter(round(call.time_ms or 0.0, 2) for call in told if call.name not in (PIXELS, READINGS))
    for time_ms, number in redraws.items():
        words.append(f"{number} redraw{'' if number == 1 else 's'} of {units.show(time_ms, 'ms', 2)}")
    words += [
        f"{call.name} {units.show((call.time_ms or 0.0) * call.count, 'ms', 2)}"
        for call in told
        if call.name in (PIXELS, READINGS)
    ]
    return ", ".join(words)


def _knob_remedies(late: Sequence[_Knob], bus: BoardBusResult) -> tuple[str, ...]:
    tightest = _tightest(late)
    longest_ms = tightest.longest_blocked_ms or 0.0
    remedies = []
    looped = [k.function for k in late if k.function.read_by != "interrupt"]
    if looped:
        remedies.append(
            f"Read {function_names(looped)} by interrupt, or by a timer {tightest.sample_hz or 0:g} times a second."
        )
    clock_khz = bus.settings.clock_khz if bus.settings else None
    if bus.redraws and clock_khz:
        piece = _whole(longest_ms * clock_khz / CLOCKS_PER_BYTE) - OVERHEAD_BYTES
        if piece > 0:
            remedies.append(
                f"Send pictures in pieces of {piece} bytes at most and look at the knobs between two pieces."
            )
    return tuple(remedies)


# The link (J6)


def _values(board: Board) -> Message:
    """The values that the computer sends, as one message; without a number of them nothing is known of it."""
    if board.link_values is None:
        return Message("values", None, None)
    return Message("values", board.link_value_bytes, board.link_values_a_s, board.link_values)


def _link_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """The load of a link through a port chip; the other links have no baud rate."""
    functions = plan.functions_by_board.get(board.id or 0, ())
    if plan.modules[board.module_id].link != "port chip" or not functions:
        return ()
    figures = {
        "the speed of the link": board.baud or None,
        "how many values it takes": board.link_values,
        "the bytes of a value": board.link_value_bytes if board.link_values != 0 else 0,
        "how often they come": board.link_values_a_s if board.link_values != 0 else 0,
    }
    missing = [name for name, figure in figures.items() if figure is None]
    load = serial_load([_values(board)], board.baud or None)
    if missing:
        sentence = f"The load of {board.code}'s link cannot be told: not entered: {', '.join(missing)}"
    else:
        sentence = (
            f"{board.code} takes {board.link_values} values of {board.link_value_bytes or 0} bytes "
            f"{board.link_values_a_s or 0:g} times a second, {units.show(load.bytes_per_s, 'bytes')}/s: "
            f"{percent(load.share or 0.0)} of its {units.show(board.baud or 0, 'baud')}, of which 70 % "
            f"({units.show(load.allowed_bytes_per_s or 0.0, 'bytes')}/s) may be used"
        )
    return (
        Finding(
            verdict=load.verdict,  # type: ignore[arg-type]  # one of the literals
            about=about_board(plan, board),
            sentence=sentence + ".",
            remedies=_link_remedies(board, load) if load.verdict in ("stop", "caution") else (),
            source_mark=board.link_mark if not missing else None,
            source=LINK_SOURCE,
            mend_at=f"/boards/{board.code}/record",
            mend_word="See the board's link",
        ),
    )


def _link_remedies(board: Board, load: SerialLoad) -> tuple[str, ...]:
    values, size, rate = board.link_values or 0, board.link_value_bytes or 0, board.link_values_a_s or 0.0
    allowed = load.allowed_bytes_per_s or 0.0
    remedies = (
        [f"Send only what has changed: {_whole(allowed / size):,} values a second fit."] if size else []
    )
    if load.rate_factor is not None:
        slower = _whole(rate * load.rate_factor)
        if slower >= 1:
            remedies.append(f"Send {slower} times a second: {units.show(values * size * slower, 'bytes')}/s.")
    smaller = _whole(allowed / (values * rate)) if values * rate > 0 else 0
    if 1 <= smaller < size:
        remedies.append(
            f"Round values to {smaller} bytes each: {units.show(values * smaller * rate, 'bytes')}/s."
        )
    if load.baud_needed is not None:
        remedies.append(
            f"A link of {units.show(load.baud_needed, 'baud')}: "
            f"{units.show(load.baud_needed / 10 * 0.7, 'bytes')}/s may be used."
        )
    return tuple(remedies)


def _whole(number: float) -> int:
    """The whole number at or below a quotient, one lost to rounding given back.

    >>> _whole(115_200 / 10 * 0.7 / 8)
    1008
    """
    return floor(number * (1 + HAIR))
