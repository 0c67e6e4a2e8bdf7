"""The two-wire bus of a board: addresses, pull-ups, run, and how long its displays take to redraw (C6, C7, D3)."""

from dataclasses import dataclass
from math import ceil

from app import units
from app.calculations.bus_address import AddressMap, BusDevice, address_map, buses_needed, switch_plan
from app.calculations.display_refresh import shared_frames_per_s, two_wire_redraw
from app.calculations.source_mark import weakest
from app.calculations.two_wire_bus import (
    BusMode,
    TwoWireBus,
    bus_capacitance_pf,
    pull_up_high_ohm,
    two_wire_bus,
)
from app.planning.board_pins import about_board, contacts_of
from app.planning.finding import Finding
from app.planning.plan import FunctionRow, Plan
from app.tables import Board, BoardBus, Component

ADDRESS_SOURCE = "two devices with one address answer together: the two-wire bus specification, UM10204, 3.1"
PULL_UP_SOURCE = "rise time and sink current of the two-wire bus specification, UM10204, table 10 and 7.1"


@dataclass(frozen=True, slots=True)
class Device:
    """One device on the bus: its word (a function's id, or a carrier and number), name, addresses and redraw."""

    key: str
    name: str
    addresses: tuple[int, ...]
    set_at: int | None
    redraw_bytes: int | None
    functions: tuple[FunctionRow, ...]


@dataclass(frozen=True, slots=True)
class DeviceRedraw:
    """How long one display takes to be redrawn whole."""

    device: Device
    time_ms: float


@dataclass(frozen=True, slots=True)
class BoardBusResult:
    """A board's bus with its findings; without devices there is nothing on it."""

    settings: BoardBus | None
    devices: tuple[Device, ...]
    addresses: AddressMap | None
    pull_ups: TwoWireBus | None
    redraws: tuple[DeviceRedraw, ...]
    frames_per_s: float | None
    findings: tuple[Finding, ...]

    @property
    def redraw_ms(self) -> float:
        """The time of one redraw of every display on the bus."""
        return sum(redraw.time_ms for redraw in self.redraws)


def bus_devices(plan: Plan, board: Board) -> tuple[Device, ...]:
    """What sits on a board's bus: each part with terminals on it, those on carriers by the carrier."""
    straps = {strap.device: strap.address for strap in plan.straps.get(board.id or 0, ())}
    devices: list[Device] = []
    on_carrier: dict[int, list[tuple[FunctionRow, int]]] = {}
    for function in plan.functions_by_board.get(board.id or 0, ()):
        component = plan.component_of(function)
        if component is None or not _is_on_bus(plan, component):
            continue
        if component.carrier_id is not None:
            on_carrier.setdefault(component.carrier_id, []).append((function, contacts_of(function) or 1))
        else:
            devices.append(
                Device(
                    key=function.code,
                    name=f"{function.code} {component.name}",
                    addresses=read_addresses(component.addresses),
                    set_at=straps.get(function.code),
                    redraw_bytes=component.redraw_bytes,
                    functions=(function,),
                )
            )
    for carrier_id, users in on_carrier.items():
        carrier = plan.carriers[carrier_id]
        number = ceil(sum(places for _, places in users) / carrier.places)
        for i in range(1, number + 1):
            key = f"{carrier.code} {i}"
            devices.append(
                Device(
                    key=key,
                    name=f"{carrier.name} {i}" if number > 1 else carrier.name,
                    addresses=read_addresses(carrier.addresses),
                    set_at=straps.get(key),
                    redraw_bytes=None,
                    functions=tuple(function for function, _ in users),
                )
            )
    return tuple(devices)


def read_addresses(text: str) -> tuple[int, ...]:
    """Addresses from hex words with a space between.

    >>> read_addresses("0x3C 0x3D")
    (60, 61)
    """
    return tuple(int(word, 16) for word in text.split())


def board_bus(plan: Plan, board: Board) -> BoardBusResult:
    """The bus of a board with its findings."""
    devices = bus_devices(plan, board)
    settings = plan.buses.get(board.id or 0)
    if not devices:
        return BoardBusResult(settings, (), None, None, (), None, ())
    addresses = address_map([BusDevice(d.key, d.addresses, d.set_at) for d in devices])
    supply_v = settings.supply_v if settings and settings.supply_v else plan.modules[board.module_id].logic_v
    each = settings.pull_up_ohm_each if settings else None
    pull_ups = two_wire_bus(
        supply_v,
        settings.clock_khz if settings else None,
        settings.run_m if settings else None,
        len(devices),
        [each] * len(devices),
    )
    redraws: tuple[DeviceRedraw, ...] = ()
    frames = None
    if settings and settings.clock_khz:
        timed = [(d, two_wire_redraw(d.redraw_bytes, settings.clock_khz)) for d in devices if d.redraw_bytes]
        redraws = tuple(DeviceRedraw(device, redraw.time_ms) for device, redraw in timed)
        frames = shared_frames_per_s([redraw for _, redraw in timed]) if timed else None
    return BoardBusResult(
        settings=settings,
        devices=devices,
        addresses=addresses,
        pull_ups=pull_ups,
        redraws=redraws,
        frames_per_s=frames,
        findings=(
            _address_finding(plan, board, devices, addresses),
            _pull_up_finding(plan, board, devices, settings, pull_ups),
        ),
    )


def _is_on_bus(plan: Plan, component: Component) -> bool:
    return any(terminal.need == "sda" for terminal in plan.terminals.get(component.id or 0, ()))


def _address_finding(plan: Plan, board: Board, devices: tuple[Device, ...], addresses: AddressMap) -> Finding:
    names = {device.key: device.name for device in devices}
    remedies: list[str] = []
    about: list[FunctionRow] = []
    if addresses.left_over:
        clash = addresses.clashes[0]
        sentence = (
            f"{len(clash.keys)} devices on {board.code}'s bus share {_counted(len(clash.addresses), 'address')} "
            f"({_hex(clash.addresses)}): {', '.join(clash.keys)}; "
            f"{clash.over} too many"
        )
        about = [f for d in devices if d.key in clash.keys for f in d.functions]
        needed = buses_needed([BusDevice(d.key, d.addresses) for d in devices])
        if needed is not None:
            remedies.append(f"{needed} buses: {', '.join(addresses.left_over)} on another one.")
        plan_switch = switch_plan([BusDevice(d.key, d.addresses) for d in devices])
        if plan_switch is not None:
            remedies.append(
                f"A bus switch at 0x{plan_switch.address:02X} with {len(plan_switch.channels)} channels in use."
            )
        remedies.append("A part with another set of addresses for one of them.")
    elif addresses.same_now:
        same = addresses.same_now[0]
        sentence = f"{', '.join(names[key] for key in same.keys)} are both set to {_hex(same.addresses)}"
        remedies = [
            f"Set {names[change.key]} to 0x{change.to.address:02X}." for change in addresses.to_change
        ]
    elif addresses.reserved:
        sentence = (
            f"{', '.join(names[key] for key in addresses.reserved)} sits at an address the bus reserves"
        )
    elif addresses.unknown:
        sentence = f"the addresses of {', '.join(names[key] for key in addresses.unknown)} are not entered"
    else:
        told = ", ".join(f"{key} 0x{place.address:02X}" for key, place in addresses.places.items())
        sentence = f"{board.code}'s {_counted(len(devices), 'bus device')} can have an address each: {told}"
    return Finding(
        verdict=addresses.verdict,  # type: ignore[arg-type]  # one of the literals
        about=about_board(plan, board, about),
        sentence=sentence[:1].upper() + sentence[1:] + ".",
        remedies=tuple(remedies),
        source_mark="assumed",
        source=ADDRESS_SOURCE,
        mend_at=f"/boards/{board.code}/record",
        mend_word="See the bus",
    )


def _pull_up_finding(
    plan: Plan,
    board: Board,
    devices: tuple[Device, ...],
    settings: BoardBus | None,
    bus: TwoWireBus,
) -> Finding:
    remedies: list[str] = []
    if bus.missing or settings is None or bus.mode is None:
        missing = ", ".join(dict.fromkeys(bus.missing))
        sentence = f"{board.code}'s bus cannot be checked: not entered: {missing}"
    else:
        run = units.show(settings.run_m, "m") if settings.run_m is not None else ""
        sentence = (
            f"{board.code}'s bus of {run} with {_counted(len(devices), 'device')} has "
            f"{bus.capacitance_pf:.0f} pF and pull-ups of {_kohm(bus.pull_up_ohm)} in parallel; at "
            f"{units.show(settings.clock_khz or 0, 'kHz')} {_kohm(bus.low_ohm)} to {_kohm(bus.high_ohm)} hold"
        )
        if bus.faults:
            sentence += f": {', '.join(bus.faults)}"
            if bus.fastest is not None:
                sentence += (
                    f"; at {bus.fastest.clock_khz:g} kHz it passes ({_limit(bus.fastest, settings, devices)})"
                )
                remedies.append(
                    f"Run it at {bus.fastest.clock_khz:g} kHz: {_limit(bus.fastest, settings, devices)}."
                )
            if bus.add_ohm is not None:
                remedies.append(
                    f"One more pull-up of {_kohm(bus.add_ohm[0])} to {_kohm(bus.add_ohm[1])} to each line."
                )
            if bus.take_off:
                remedies.append(f"Take the pull-ups of {_counted(len(bus.take_off), 'module')} off.")
            if bus.longest_run_m is not None and bus.longest_run_m > 0:
                remedies.append(f"A run of {units.show(bus.longest_run_m, 'm', 2)} at most.")
    return Finding(
        verdict=bus.verdict,  # type: ignore[arg-type]  # one of the literals
        about=about_board(plan, board),
        sentence=sentence + ".",
        remedies=tuple(remedies) if bus.verdict in ("stop", "caution") else (),
        source_mark=weakest(["assumed", settings.figures_mark]) if settings else None,
        source=PULL_UP_SOURCE,
        mend_at=f"/boards/{board.code}/record",
        mend_word="See the bus",
    )


def _limit(mode: BusMode, settings: BoardBus, devices: tuple[Device, ...]) -> str:
    limit = pull_up_high_ohm(bus_capacitance_pf(settings.run_m or 0.0, len(devices)), mode)
    return f"at most {_kohm(limit)}"


def _kohm(ohm: float | None) -> str:
    return "unknown" if ohm is None else units.show(ohm / 1000, "kohm", 2)


def _hex(addresses: tuple[int, ...]) -> str:
    return ", ".join(f"0x{address:02X}" for address in addresses)


def _counted(number: int, noun: str) -> str:
    words = {1: "one", 2: "two", 3: "three", 4: "four"}
    plural = noun + ("es" if noun.endswith("s") else "s")
    return f"{words.get(number, str(number))} {noun if number == 1 else plural}"
