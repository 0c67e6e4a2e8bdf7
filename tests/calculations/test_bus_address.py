"""Addresses on a bus, against the specification's table, a graph library and an exhaustive search."""

import itertools
import random

import networkx as nx
import pytest

from app.calculations.bus_address import (
    AddressMap,
    BusDevice,
    BusPlace,
    address_map,
    buses_needed,
    is_reserved,
    switch_plan,
)

# Solomon SSD1306 data sheet (SA0); a module's data sheet gives the same two: 0x3C and 0x3D, two a bus at most.
DISPLAY = (0x3C, 0x3D)
# PCF8574-like and 16-bit expanders with three address pins: eight addresses (common practice).
EXPANDER = tuple(range(0x20, 0x28))


def test_reserved_addresses_are_those_of_the_specification() -> None:
    # UM10204 Rev. 6 Table 3: 0000000, 0000001, 0000010, 0000011, 00001XX, 11111XX, 11110XX; 112 are left.
    table = {0b0000000, 0b0000001, 0b0000010, 0b0000011}
    table |= (
        {0b0000100 | x for x in range(4)}
        | {0b1111100 | x for x in range(4)}
        | {0b1111000 | x for x in range(4)}
    )
    assert {address for address in range(128) if is_reserved(address)} == table
    assert sum(not is_reserved(address) for address in range(128)) == 112


def test_a_printed_write_address_is_no_place_for_a_device() -> None:
    # SSD1306: 0x78 is the 8-bit form of 0x3C.
    found = address_map([BusDevice("display", (0x78,))])
    assert (found.reserved, found.places, found.left_over, found.verdict) == (("display",), {}, (), "stop")
    assert address_map([BusDevice("part", (0x78, 0x40), set_at=0x78)]).places == {"part": BusPlace(1, 0x40)}
    assert address_map([BusDevice("part", (0x78, 0x40), set_at=0x78)]).verdict == "stop"


def test_three_equal_displays_clash_over_two_addresses() -> None:
    # scenario.md section 9, fault 3.
    displays = [BusDevice(key, DISPLAY) for key in ("F132", "F134", "F136")]
    found = address_map(displays)
    assert found.verdict == "stop"
    assert [(clash.keys, clash.addresses, clash.over) for clash in found.clashes] == [
        (("F132", "F134", "F136"), DISPLAY, 1)
    ]
    assert found.left_over == ("F136",)
    assert buses_needed(displays) == 2
    plan = switch_plan(displays)
    assert plan is not None
    assert [dict(channel) for channel in plan.channels] == [{"F132": 0x3C, "F134": 0x3D}, {"F136": 0x3C}]


def test_two_displays_are_told_apart_by_one_strap() -> None:
    found = address_map([BusDevice("left", DISPLAY, 0x3C), BusDevice("right", DISPLAY, 0x3C)])
    assert [clash.keys for clash in found.same_now] == [("left", "right")]
    assert found.left_over == ()
    (change,) = found.to_change
    assert (change.from_address, change.to) == (0x3C, BusPlace(1, 0x3D))
    assert found.verdict == "stop"  # as strapped now


def test_a_device_gives_way_to_one_with_no_choice() -> None:
    found = address_map([BusDevice("expander", EXPANDER, 0x20), BusDevice("fixed", (0x20,))])
    assert found.places == {"expander": BusPlace(1, 0x21), "fixed": BusPlace(1, 0x20)}
    assert [clash.keys for clash in found.same_now] == [("expander", "fixed")]
    assert [change.key for change in found.to_change] == ["expander"]


def test_an_unknown_address_cannot_tell_and_a_clash_beside_it_stays_one() -> None:
    found = address_map([BusDevice("display", DISPLAY, 0x3C), BusDevice("sensor", ())])
    assert (found.unknown, found.verdict) == (("sensor",), "cannot tell")
    assert (
        address_map([*(BusDevice(f"d{k}", DISPLAY) for k in range(3)), BusDevice("x", ())]).verdict == "stop"
    )
    assert buses_needed([BusDevice("sensor", ())]) is None
    assert buses_needed([BusDevice("wrong", (0x78,))]) is None
    assert switch_plan([BusDevice("display", DISPLAY)]) is None


def test_devices_set_apart_and_all_on_their_own_are_fine() -> None:
    found = address_map(
        [BusDevice("a", EXPANDER, 0x20), BusDevice("b", EXPANDER, 0x27), BusDevice("c", (0x40,))]
    )
    assert (found.verdict, found.to_change, found.same_now) == ("fine", (), ())
    assert address_map([]).verdict == "fine"


def _random_devices(seed: int) -> list[BusDevice]:
    dice = random.Random(seed)  # noqa: S311  # cases for a test, not a secret
    devices = []
    for k in range(dice.randint(1, 6)):
        addresses = tuple(dice.sample(range(0x20, 0x26), dice.randint(1, 4)))
        set_at = dice.choice(addresses) if dice.random() < 0.6 else None
        devices.append(BusDevice(f"part {k}", addresses, set_at))
    return devices


def _check_plan(devices: list[BusDevice], found: AddressMap) -> None:
    own = {device.key: device.addresses for device in devices}
    assert all(place.address in own[key] for key, place in found.places.items())
    assert len(set(found.places.values())) == len(found.places)
    assert sorted([*found.places, *found.left_over]) == sorted(own)


@pytest.mark.parametrize("seed", range(300))
def test_a_plan_places_as_many_and_changes_as_few_as_an_exhaustive_search(seed: int) -> None:
    devices = _random_devices(seed)
    found = address_map(devices)
    _check_plan(devices, found)
    # The largest matching, by networkx.
    graph = nx.Graph([(device.key, address) for device in devices for address in device.addresses])
    matching = nx.bipartite.hopcroft_karp_matching(graph, [device.key for device in devices])
    assert len(found.places) == len(matching) // 2
    # The fewest changes of addresses that are set, by trying every assignment of the devices placed.
    placed = [device for device in devices if device.key in found.places]
    fewest = min(
        sum(d.set_at is not None and d.set_at != a for d, a in zip(placed, choice, strict=True))
        for choice in itertools.product(*(device.addresses for device in placed))
        if len(set(choice)) == len(placed)
    )
    changed = [d for d in placed if d.set_at is not None and found.places[d.key].address != d.set_at]
    assert len(changed) == fewest


@pytest.mark.parametrize("seed", range(300))
def test_a_clash_names_devices_that_have_fewer_addresses_between_them(seed: int) -> None:
    devices = _random_devices(seed)
    found = address_map(devices)
    own = {device.key: set(device.addresses) for device in devices}
    for clash in found.clashes:
        assert set().union(*(own[key] for key in clash.keys)) == set(clash.addresses)
        assert clash.over > 0
    assert sum(clash.over for clash in found.clashes) == len(found.left_over)


@pytest.mark.parametrize("seed", range(100))
def test_buses_and_switches_leave_no_two_devices_alike(seed: int) -> None:
    devices = _random_devices(seed)
    buses = buses_needed(devices)
    assert buses is not None
    _check_plan(devices, address_map(devices, buses=buses))
    assert not address_map(devices, buses=buses).left_over
    if buses > 1:
        assert address_map(devices, buses=buses - 1).left_over
        plan = switch_plan(devices)
        assert plan is not None
        before = [*plan.main.values(), plan.address]
        assert len(set(before)) == len(before)
        for channel in plan.channels:
            heard = [*before, *channel.values()]
            assert len(set(heard)) == len(heard)
        assert sum(len(channel) for channel in plan.channels) + len(plan.main) == len(devices)


def test_bad_devices_are_refused() -> None:
    with pytest.raises(ValueError, match="stands twice"):
        address_map([BusDevice("a", (0x20,)), BusDevice("a", (0x21,))])
    with pytest.raises(ValueError, match="not a 7-bit address"):
        address_map([BusDevice("a", (0x120,))])
    with pytest.raises(ValueError, match="none of its own"):
        address_map([BusDevice("a", (0x20,), set_at=0x21)])
    with pytest.raises(ValueError, match="buses 0"):
        address_map([], buses=0)
    with pytest.raises(ValueError, match="channels 0"):
        switch_plan([], channels=0)
