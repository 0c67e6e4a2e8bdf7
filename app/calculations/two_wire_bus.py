"""A two-wire bus: its capacitance, its pull-ups in parallel, the range that holds, and the fastest mode."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from app.calculations.verdict import verdict_of

CLOCKS_PER_BYTE = 9
"""Clocks a byte takes on the bus: eight bits and the acknowledge."""
RISE_FACTOR = math.log(0.7 / 0.3)
"""Time constants that a line takes from 0.3 to 0.7 of the supply, the thresholds of the bus: 0.8473."""
HAIR = 1e-9
"""Two figures closer than this share of each other are equal."""


@dataclass(frozen=True, slots=True)
class BusMode:
    """A mode of the bus: its fastest clock, slowest rise, most capacitance, and what each device can sink."""

    name: str
    clock_khz: float
    rise_ns: float
    load_limit_pf: float
    sink_ma: float


STANDARD_MODE = BusMode("standard mode", 100, 1000, 400, 3)
FAST_MODE = BusMode("fast mode", 400, 300, 400, 3)
FAST_MODE_PLUS = BusMode("fast mode plus", 1000, 120, 550, 20)
USUAL_MODES = (STANDARD_MODE, FAST_MODE)
"""The modes that nearly every part on a bus can do."""
BUS_MODES = (STANDARD_MODE, FAST_MODE, FAST_MODE_PLUS)


@dataclass(frozen=True, slots=True)
class TwoWireBus:
    """A bus against the limits of its mode; figures that an input is missing for are None.

    With a run or a pull-up missing, `capacitance_pf` and `pull_up_ohm`, and what follows from them, are those of
    the known part: the one is then more, the other less. `low_ohm` and `high_ohm` are the smallest and the
    largest pull-up allowed, `sink_ma` what a device must pull to ground, `rise_ns` how long an edge takes.
    `faults` holds any of "too strong", "too weak",
    "no pull-up", "too much capacitance" and "no pull-up holds". `fastest` is the fastest mode that holds as
    the bus is, `fastest_with_other_pull_up` with the best of pull-ups. `longest_run_m` is the run at which
    this pull-up still holds in this mode. `add_ohm` is the range of one more resistor that would do;
    `take_off` says which pull-ups to take off, the fewest that do.
    """

    mode: BusMode | None
    capacitance_pf: float
    pull_up_ohm: float | None
    low_ohm: float | None
    high_ohm: float | None
    sink_ma: float | None
    rise_ns: float | None
    faults: tuple[str, ...]
    fastest: BusMode | None
    fastest_with_other_pull_up: BusMode | None
    longest_run_m: float | None
    add_ohm: tuple[float, float] | None
    take_off: tuple[int, ...] | None
    missing: tuple[str, ...]
    verdict: str


def bus_mode(clock_khz: float) -> BusMode:
    """The slowest mode of the bus that reaches a clock.

    Args:
        clock_khz: the clock in kHz, over 0 and at most 1000.

    Returns:
        The mode whose limits then hold.

    Raises:
        ValueError: the clock is out of its range.

    Where it holds: for the three modes with pull-up resistors; the high-speed mode has drivers of its own.
    Source: UM10204, I2C-bus specification, Rev. 6, Table 10.

    Example:
        >>> bus_mode(250).name
        'fast mode'
    """
    if not clock_khz > 0:
        raise ValueError(f"clock_khz {clock_khz} must be over 0")
    mode = next((mode for mode in BUS_MODES if clock_khz <= mode.clock_khz), None)
    if mode is None:
        raise ValueError(f"clock_khz {clock_khz}: a bus with pull-ups runs at 1000 kHz at most")
    return mode


def bus_capacitance_pf(
    run_m: float, devices: int, *, metre_pf: float = 100.0, device_pf: float = 10.0
) -> float:
    """The capacitance of one line of the bus.

    Args:
        run_m: length of the wire in m, all branches together, 0 or more.
        devices: devices on the bus, 0 or more; the board itself is counted on top of them.
        metre_pf: pF for a metre of wire, 0 or more.
        device_pf: pF for a device, 0 or more.

    Returns:
        The capacitance in pF.

    Raises:
        ValueError: a figure is negative.

    Where it holds: an estimate; a cable of 50 to 100 pF a metre is usual.
    Source: common practice for the metre of wire; 10 pF is the most that UM10204 Table 9 allows a pin.

    Example:
        >>> bus_capacitance_pf(2.4, 3)
        280.0
    """
    if min(run_m, devices, metre_pf, device_pf) < 0:
        raise ValueError(
            f"run {run_m} m, {devices} devices, {metre_pf} and {device_pf} pF: none may be negative"
        )
    return run_m * metre_pf + (devices + 1) * device_pf


def parallel_ohm(pull_ups_ohm: Sequence[float]) -> float:
    """One resistance in place of several in parallel.

    Args:
        pull_ups_ohm: the resistances in ohm, each over 0; at least one.

    Returns:
        The resistance in ohm.

    Raises:
        ValueError: there are none, or one is not over 0.

    Where it holds: for pull-ups to the same supply.
    Source: Kirchhoff's laws.

    Example:
        >>> round(parallel_ohm([4700] * 5))
        940
    """
    if not pull_ups_ohm or any(not 0 < ohm < math.inf for ohm in pull_ups_ohm):
        raise ValueError(f"pull-ups {list(pull_ups_ohm)}: one or more, each over 0 ohm")
    return 1 / math.fsum(1 / ohm for ohm in pull_ups_ohm)


def pull_up_low_ohm(supply_v: float, mode: BusMode, *, low_v: float = 0.4) -> float:
    """The smallest pull-up that a device can still pull to a low.

    Args:
        supply_v: what the pull-ups go to, in V, over `low_v`.
        mode: the mode, which says what each device can sink.
        low_v: the highest level that is a low, in V; for supplies of 2 V or less it is 0.2 of the supply.

    Returns:
        The resistance in ohm.

    Raises:
        ValueError: the supply is not over `low_v`.

    Where it holds: where every device sinks what the mode asks; some parts sink less in fast mode plus.
    Source: UM10204 section 7.1, equation 2, and Table 9.

    Example:
        >>> round(pull_up_low_ohm(5, FAST_MODE))
        1533
    """
    if not low_v < supply_v < math.inf:
        raise ValueError(f"supply_v {supply_v} must be over low_v {low_v}")
    return (supply_v - low_v) / (mode.sink_ma / 1000)


def pull_up_high_ohm(capacitance_pf: float, mode: BusMode) -> float:
    """The largest pull-up that still lifts the line in the rise time allowed.

    Args:
        capacitance_pf: capacitance of the line in pF, 0 or more.
        mode: the mode, which says how long a rise may take.

    Returns:
        The resistance in ohm; without capacitance it has no end.

    Raises:
        ValueError: the capacitance is negative.

    Where it holds: for a resistor alone; an active pull-up lifts faster.
    Source: UM10204 section 7.1, equation 1.

    Example:
        >>> round(pull_up_high_ohm(280, FAST_MODE)), round(pull_up_high_ohm(280, STANDARD_MODE))
        (1265, 4215)
    """
    if not capacitance_pf >= 0:
        raise ValueError(f"capacitance_pf {capacitance_pf} must not be negative")
    return mode.rise_ns * 1000 / (RISE_FACTOR * capacitance_pf) if capacitance_pf else math.inf


def transfer_ms(bytes_sent: int, clock_khz: float) -> float:
    """How long so many bytes take on the bus.

    Args:
        bytes_sent: all bytes of the transfer, address bytes among them, 0 or more.
        clock_khz: the clock in kHz, over 0.

    Returns:
        The time in ms.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: a best case: start, stop and the program's pauses between bytes are not counted.
    Source: UM10204 section 3.1.5: eight bits and an acknowledge.

    Example:
        Reading two bytes of an expander takes five: address, register, address, and the two.

        >>> transfer_ms(5, 100)
        0.45
    """
    if bytes_sent < 0 or not clock_khz > 0:
        raise ValueError(f"{bytes_sent} bytes at {clock_khz} kHz: 0 or more bytes, a clock over 0")
    return bytes_sent * CLOCKS_PER_BYTE / clock_khz


def two_wire_bus(
    supply_v: float | None,
    clock_khz: float | None,
    run_m: float | None,
    devices: int,
    pull_ups_ohm: Sequence[float | None],
    *,
    metre_pf: float = 100.0,
    device_pf: float = 10.0,
    low_v: float = 0.4,
    modes: Sequence[BusMode] = USUAL_MODES,
) -> TwoWireBus:
    """A bus as it is wired, against the limits of the mode it runs in.

    Args:
        supply_v: what the pull-ups go to, in V, over `low_v`; None where not known.
        clock_khz: the clock in kHz, over 0 and at most 1000; None where not known.
        run_m: length of the wire in m, 0 or more; None where not known.
        devices: devices on the bus, 0 or more, the board not among them.
        pull_ups_ohm: pull-ups of one line in ohm, each over 0, None for one that is there and not known; empty
            where there are none.
        metre_pf: pF for a metre of wire.
        device_pf: pF for a device.
        low_v: the highest level that is a low, in V.
        modes: modes that all parts on the bus can do, slowest first.

    Returns:
        The pull-up and its limits, what is wrong, the fastest mode that holds and what would mend it. Any
        fault is a stop. A missing input makes it cannot tell, unless what is known is already wrong: an unknown
        run or device only adds capacitance, an unknown pull-up only makes the whole stronger.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: pull-ups all to one supply; no bus buffer or switch between the devices.
    Source: UM10204 section 7.1, equations 1 and 2, and Table 10; the estimate of the capacitance as in
        `bus_capacitance_pf`.
    Departure: a clock between two modes is held to the limits of the faster one.

    Example:
        >>> bus = two_wire_bus(3.3, 400, 2.4, 3, [10000] * 3)
        >>> bus.capacitance_pf, round(bus.pull_up_ohm), round(bus.high_ohm), bus.faults, bus.fastest.clock_khz
        (280.0, 3333, 1265, ('too weak',), 100)
    """
    known = [ohm for ohm in pull_ups_ohm if ohm is not None]
    inputs = {"supply": supply_v, "clock": clock_khz, "run": run_m}
    missing = tuple(name for name, value in inputs.items() if value is None)
    all_known = len(known) == len(pull_ups_ohm)
    missing += () if all_known else ("pull-ups",)
    mode = None if clock_khz is None else bus_mode(clock_khz)
    capacitance_pf = bus_capacitance_pf(run_m or 0.0, devices, metre_pf=metre_pf, device_pf=device_pf)
    pull_up_ohm = parallel_ohm(known) if known else None
    low = None if supply_v is None or mode is None else pull_up_low_ohm(supply_v, mode, low_v=low_v)
    high = None if mode is None else pull_up_high_ohm(capacitance_pf, mode)
    faults = _faults(mode, capacitance_pf, low, high, pull_up_ohm, all_known=all_known)
    fastest = fastest_other = None
    if supply_v is not None and run_m is not None:
        fastest_other = _fastest(modes, supply_v, low_v, capacitance_pf, None)
        if pull_up_ohm is not None and all_known:
            fastest = _fastest(modes, supply_v, low_v, capacitance_pf, pull_up_ohm)
    longest_run_m = None
    if mode is not None and pull_up_ohm is not None and all_known and metre_pf:
        most_pf = min(mode.load_limit_pf, mode.rise_ns * 1000 / (RISE_FACTOR * pull_up_ohm))
        left_pf = most_pf - (devices + 1) * device_pf
        longest_run_m = left_pf / metre_pf if left_pf >= 0 else None
    add_ohm = take_off = None
    if not missing and low is not None and high is not None and low <= high:
        add_ohm = _resistor_to_add(pull_up_ohm, low, high)
        take_off = _pull_ups_to_take_off(known, low, high) if "too strong" in faults else None
    return TwoWireBus(
        mode=mode,
        capacitance_pf=capacitance_pf,
        pull_up_ohm=pull_up_ohm,
        low_ohm=low,
        high_ohm=high,
        sink_ma=None if supply_v is None or pull_up_ohm is None else (supply_v - low_v) / pull_up_ohm * 1000,
        rise_ns=None if pull_up_ohm is None else RISE_FACTOR * pull_up_ohm * capacitance_pf / 1000,
        faults=faults,
        fastest=fastest,
        fastest_with_other_pull_up=fastest_other,
        longest_run_m=longest_run_m,
        add_ohm=add_ohm,
        take_off=take_off,
        missing=missing,
        verdict=verdict_of(is_stop=bool(faults), is_caution=False, is_complete=not missing),
    )


def _faults(
    mode: BusMode | None,
    capacitance_pf: float,
    low: float | None,
    high: float | None,
    pull_up_ohm: float | None,
    *,
    all_known: bool,
) -> tuple[str, ...]:
    """What is wrong for certain; one pull-up more can only strengthen, one metre more only slow."""
    is_wrong = {"no pull-up": pull_up_ohm is None and all_known}
    if mode is not None and high is not None:
        is_wrong["too much capacitance"] = capacitance_pf > mode.load_limit_pf * (1 + HAIR)
        is_wrong["no pull-up holds"] = low is not None and high < low * (1 - HAIR)
        if pull_up_ohm is not None:
            is_wrong["too strong"] = low is not None and pull_up_ohm < low * (1 - HAIR)
            is_wrong["too weak"] = all_known and pull_up_ohm > high * (1 + HAIR)
    return tuple(fault for fault, holds in is_wrong.items() if holds)


def _fastest(
    modes: Sequence[BusMode], supply_v: float, low_v: float, capacitance_pf: float, pull_up_ohm: float | None
) -> BusMode | None:
    """The fastest mode that holds with this pull-up, or with the best of them where none is given."""
    holding: list[BusMode] = []
    for mode in modes:
        low = pull_up_low_ohm(supply_v, mode, low_v=low_v)
        high = pull_up_high_ohm(capacitance_pf, mode)
        ohm = high if pull_up_ohm is None else pull_up_ohm
        if capacitance_pf <= mode.load_limit_pf * (1 + HAIR) and low * (1 - HAIR) <= ohm <= high * (1 + HAIR):
            holding.append(mode)
    return max(holding, key=lambda mode: mode.clock_khz, default=None)


def _resistor_to_add(pull_up_ohm: float | None, low: float, high: float) -> tuple[float, float] | None:
    """The range of one more resistor that brings the whole between its limits; None where none is wanted."""
    if pull_up_ohm is None:
        return low, high
    if pull_up_ohm <= high:
        return None
    return 1 / (1 / low - 1 / pull_up_ohm), 1 / (1 / high - 1 / pull_up_ohm)


def _pull_ups_to_take_off(pull_ups_ohm: Sequence[float], low: float, high: float) -> tuple[int, ...] | None:
    """The fewest pull-ups whose removal brings the whole between its limits, by their place in the list."""
    places = range(len(pull_ups_ohm))
    for number in range(1, len(pull_ups_ohm)):
        if math.comb(len(pull_ups_ohm), number) > 10_000:
            return None  # so many modules on one bus: the range is given, the choice is the builder's
        for off in combinations(places, number):
            left = parallel_ohm([ohm for place, ohm in enumerate(pull_ups_ohm) if place not in off])
            if low * (1 - HAIR) <= left <= high * (1 + HAIR):
                return off
    return None
