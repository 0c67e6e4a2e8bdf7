"""Addresses on a two-wire bus: each device one of its own, or the clash named and what resolves it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

USABLE_ADDRESSES = range(0x08, 0x78)
"""The 7-bit addresses that are not reserved: 112 of them."""
SWITCH_ADDRESSES = tuple(range(0x70, 0x78))
"""Addresses a usual eight-channel bus switch can have."""
NEW_ADDRESS, NEW_BUS = 1_000_000, 1_000_000_000
"""Weights of a change of strap and of a move to another bus; the place in a device's own list weighs 1."""

Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class BusDevice:
    """A device: every address it can have (none where not known), and the one it is set to now, if any."""

    key: str
    addresses: tuple[int, ...]
    set_at: int | None = None


@dataclass(frozen=True, slots=True)
class BusPlace:
    """A place for a device: a bus, numbered from 1, and an address on it."""

    bus: int
    address: int


@dataclass(frozen=True, slots=True)
class AddressClash:
    """Devices that want the same few addresses."""

    keys: tuple[str, ...]
    addresses: tuple[int, ...]
    buses: int = 1

    @property
    def over(self) -> int:
        """How many of the devices have to go elsewhere."""
        return len(self.keys) - len(self.addresses) * self.buses


@dataclass(frozen=True, slots=True)
class AddressChange:
    """A device that is set to another address, or put on another bus; from None where it is not set yet."""

    key: str
    from_address: int | None
    to: BusPlace


@dataclass(frozen=True, slots=True)
class AddressMap:
    """A place of its own for as many devices as can be, and the fewest that are left over.

    `clashes` names the devices that cannot all have an address, with the addresses they compete for;
    `same_now` those that are set alike as they are strapped now. `reserved` names devices set to a reserved
    address or able to have no other, `unknown` those whose addresses are missing.
    """

    places: Mapping[str, BusPlace]
    left_over: tuple[str, ...]
    clashes: tuple[AddressClash, ...]
    same_now: tuple[AddressClash, ...]
    to_change: tuple[AddressChange, ...]
    reserved: tuple[str, ...]
    unknown: tuple[str, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class SwitchPlan:
    """Devices on the bus itself and those behind each channel of a bus switch, with their addresses."""

    address: int
    main: Mapping[str, int]
    channels: tuple[Mapping[str, int], ...]


def is_reserved(address: int) -> bool:
    """Whether a 7-bit address is reserved.

    Args:
        address: the address without the read/write bit, 0 to 0x7F.

    Returns:
        True for 0x00 to 0x07 and 0x78 to 0x7F.

    Raises:
        ValueError: it is no 7-bit address.

    Where it holds: for 7-bit addresses; an address printed with the read/write bit (0x78 for 0x3C) is to be
        halved first.
    Source: UM10204, I2C-bus specification, Rev. 6, Table 3.

    Example:
        >>> is_reserved(0x78), is_reserved(0x3C)
        (True, False)
    """
    if not 0 <= address <= 0x7F:
        raise ValueError(f"address {address:#x} is not a 7-bit address, 0 to 0x7f")
    return address not in USABLE_ADDRESSES


def address_map(devices: Sequence[BusDevice], *, buses: int = 1) -> AddressMap:
    """An address of its own for every device, or the fewest devices that have to go elsewhere.

    Args:
        devices: devices on the bus, in list order, each with the 7-bit addresses that it can be set to.
        buses: buses to spread them over, 1 or more; as they are now, all are on bus 1.

    Returns:
        As many devices placed as can be; of equal numbers the earlier in list order. Of such plans the one
        that moves the fewest to another bus, then changes the fewest addresses already set. Stop where a
        device is left over, set to a reserved address, or two are set alike as they are now; cannot tell
        where addresses of a device are missing; else fine.

    Raises:
        ValueError: a key comes twice, an address is no 7-bit address, `set_at` is none of a device's own
            addresses, or `buses` is less than 1.

    Where it holds: for devices that answer to one address; a call address that several answer to (an "all
        call") is not looked at. A device set to a reserved address is set to another if it can.
    Source: a maximum matching, by augmenting along the path of least cost, device by device; the devices that
        compete are those of Hall's theorem: so many with fewer addresses between them.

    Example:
        >>> shown = [BusDevice(f"display {k}", (0x3C, 0x3D)) for k in (1, 2, 3)]
        >>> found = address_map(shown)
        >>> found.left_over, found.clashes[0].over, found.verdict
        (('display 3',), 1, 'stop')
        >>> address_map(shown, buses=2).places["display 3"]
        BusPlace(bus=2, address=60)
    """
    if buses < 1:
        raise ValueError(f"buses {buses} must be 1 or more")
    _check(devices)
    known = [device for device in devices if device.addresses]
    usable = {device.key: tuple(a for a in device.addresses if not is_reserved(a)) for device in known}
    costs = {device.key: _costs(device, usable[device.key], buses) for device in known}
    taken: dict[Place, str] = {}
    for device in known:
        _give_place(device.key, costs, taken)
    places = {key: BusPlace(*place) for place, key in taken.items()}
    left_over = tuple(device.key for device in known if device.key not in places and usable[device.key])
    same_now = _same_now(devices)
    reserved = tuple(
        device.key
        for device in known
        if not usable[device.key] or (device.set_at is not None and is_reserved(device.set_at))
    )
    unknown = tuple(device.key for device in devices if not device.addresses)
    verdict = "stop" if left_over or same_now or reserved else "cannot tell" if unknown else "fine"
    return AddressMap(
        places={device.key: places[device.key] for device in known if device.key in places},
        left_over=left_over,
        clashes=_clashes(known, left_over, costs, taken, buses),
        same_now=same_now,
        to_change=tuple(
            AddressChange(device.key, _now(device), places[device.key])
            for device in known
            if device.key in places and places[device.key] != BusPlace(1, _now(device) or 0)
        ),
        reserved=reserved,
        unknown=unknown,
        verdict=verdict,
    )


def buses_needed(devices: Sequence[BusDevice]) -> int | None:
    """The fewest buses on which every device has an address of its own.

    Args:
        devices: as for `address_map`.

    Returns:
        The number of buses; None where a device's addresses are missing or all reserved.

    Raises:
        ValueError: as `address_map`.

    Where it holds: as `address_map`.
    Source: as `address_map`; never more than one bus a device.

    Example:
        >>> buses_needed([BusDevice(f"display {k}", (0x3C, 0x3D)) for k in range(5)])
        3
    """
    once = address_map(devices)
    if len(once.places) + len(once.left_over) < len(devices):
        return None
    return next(
        buses
        for buses in range(1, len(devices) + 2)
        if len(address_map(devices, buses=buses).places) == len(devices)
    )


def switch_plan(
    devices: Sequence[BusDevice],
    switch_addresses: Sequence[int] = SWITCH_ADDRESSES,
    channels: int = 8,
) -> SwitchPlan | None:
    """Clashing devices behind the channels of a bus switch, the rest on the bus itself.

    Args:
        devices: as for `address_map`.
        switch_addresses: addresses that the switch can be set to.
        channels: channels it has, 1 or more.

    Returns:
        Where each device goes and the address of the switch; no device behind it has the address of one before
        it, for those always hear. None where nothing clashes, addresses are missing, the channels do not
        suffice or the switch finds no address.

    Raises:
        ValueError: as `address_map`, or `channels` is less than 1.

    Where it holds: with one channel switched on at a time.
    Source: as `address_map`; that devices before a switch hear every channel's traffic follows from how it is
        wired.

    Example:
        >>> plan = switch_plan([BusDevice(f"display {k}", (0x3C, 0x3D)) for k in (1, 2, 3)])
        >>> hex(plan.address), [len(channel) for channel in plan.channels]
        ('0x70', [2, 1])
    """
    if channels < 1:
        raise ValueError(f"channels {channels} must be 1 or more")
    found = address_map(devices)
    if found.unknown or not found.clashes:
        return None
    behind = {key for clash in found.clashes for key in clash.keys}
    if any(device.key not in found.places and device.key not in behind for device in devices):
        return None
    moved = [device for device in devices if device.key in behind]
    needed = buses_needed(moved)
    if needed is None or needed > channels:
        return None
    spread = address_map(moved, buses=needed)
    competed = {address for clash in found.clashes for address in clash.addresses}
    before = [_without(device, competed) for device in devices if device.key not in behind]
    switch = BusDevice("", tuple(a for a in switch_addresses if a not in competed))
    main = address_map([*before, switch]) if switch.addresses else None
    if main is None or len(main.places) <= len(before):
        return None
    return SwitchPlan(
        address=main.places[""].address,
        main={device.key: main.places[device.key].address for device in before},
        channels=tuple(
            {key: place.address for key, place in spread.places.items() if place.bus == bus}
            for bus in range(1, needed + 1)
        ),
    )


def _without(device: BusDevice, addresses: set[int]) -> BusDevice:
    """A device that may not have these addresses."""
    left = tuple(address for address in device.addresses if address not in addresses)
    return BusDevice(device.key, left, device.set_at if device.set_at in left else None)


def _check(devices: Sequence[BusDevice]) -> None:
    keys = [device.key for device in devices]
    if twice := sorted({key for key in keys if keys.count(key) > 1}):
        raise ValueError(f"{', '.join(twice)}: a device stands twice on the bus")
    for device in devices:
        for address in (*device.addresses, *(() if device.set_at is None else (device.set_at,))):
            is_reserved(address)
        if device.addresses and device.set_at is not None and device.set_at not in device.addresses:
            raise ValueError(f"{device.key} is set to {device.set_at:#x}, none of its own addresses")


def _costs(device: BusDevice, usable: tuple[int, ...], buses: int) -> dict[Place, int]:
    costs: dict[Place, int] = {}
    for bus in range(1, buses + 1):
        for rank, address in enumerate(dict.fromkeys(usable)):
            changes = device.set_at is not None and address != device.set_at
            costs[bus, address] = rank + NEW_ADDRESS * changes + NEW_BUS * (bus > 1) + bus - 1
    return costs


def _give_place(key: str, costs: Mapping[str, Mapping[Place, int]], taken: dict[Place, str]) -> None:
    """Place one more device, moving others along the path of least cost; no path, no place."""
    best: dict[Place, int] = {}
    came_from: dict[Place, Place | None] = {}
    todo: list[tuple[Place, int, Place | None]] = [(place, cost, None) for place, cost in costs[key].items()]
    while todo:
        later: list[tuple[Place, int, Place | None]] = []
        for place, cost, before in todo:
            if place in best and best[place] <= cost:
                continue
            best[place], came_from[place] = cost, before
            if place in taken:
                other = costs[taken[place]]
                later += [(at, cost + other[at] - other[place], place) for at in other if at != place]
        todo = later
    free = [place for place in best if place not in taken]
    if not free:
        return
    place = min(free, key=lambda at: (best[at], at))
    while (before := came_from[place]) is not None:
        taken[place] = taken[before]
        place = before
    taken[place] = key


def _clashes(
    devices: Sequence[BusDevice],
    left_over: Sequence[str],
    costs: Mapping[str, Mapping[Place, int]],
    taken: Mapping[Place, str],
    buses: int,
) -> tuple[AddressClash, ...]:
    """For each device left over those it competes with, however far; groups that meet are one."""
    groups: list[tuple[set[str], set[Place]]] = []
    for key in left_over:
        keys, places, todo = {key}, set(costs[key]), [key]
        while todo:
            places |= (reached := set(costs[todo.pop()]))
            for other in {taken[place] for place in reached} - keys:
                keys.add(other)
                todo.append(other)
        for group in [group for group in groups if group[1] & places]:
            groups.remove(group)
            keys |= group[0]
            places |= group[1]
        groups.append((keys, places))
    return tuple(
        AddressClash(
            keys=tuple(device.key for device in devices if device.key in keys),
            addresses=tuple(sorted({address for _, address in places})),
            buses=buses,
        )
        for keys, places in groups
    )


def _now(device: BusDevice) -> int | None:
    """The address a device has: as set, or the only one it can have."""
    if device.set_at is None and len(set(device.addresses)) == 1:
        return device.addresses[0]
    return device.set_at


def _same_now(devices: Sequence[BusDevice]) -> tuple[AddressClash, ...]:
    at: dict[int, list[str]] = {}
    for device in devices:
        if (now := _now(device)) is not None:
            at.setdefault(now, []).append(device.key)
    return tuple(AddressClash(tuple(keys), (address,)) for address, keys in at.items() if len(keys) > 1)
