"""Why functions find no place on a board: which terminals compete for which pins."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, product
from typing import TypeAlias

from app.calculations.board_terminals import (
    BoardTerminals,
    Terminal,
    board_terminals,
    bus_units,
    matrix_terminals,
)
from app.calculations.pin_ability import BUS_OF_ABILITY, Pin, PinUse, ability_instances, meets_need
from app.calculations.pin_demand import MATRIX, FunctionNeed, TerminalNeed
from app.calculations.pin_lock import held_pins

ANY_PIN = "any"
"""The need of a contest over all pins of the board."""

PIN_WORDS = {
    ANY_PIN: "pin",
    "out": "output pin",
    "in": "input pin",
    "select": "output pin",
    "pulse": "pulse-width pin",
    "analogue": "analogue pin",
    "interrupt": "interrupt pin",
    "sda": "two-wire data pin",
    "scl": "two-wire clock pin",
    "spi-clock": "SPI clock pin",
    "spi-out": "SPI data-out pin",
    "spi-in": "SPI data-in pin",
    "rx": "serial receive pin",
    "tx": "serial send pin",
}

MOST_WAYS = 200
"""Ways tried to lay buses on peripherals and to shape the matrix; a board has far fewer."""
NAMES_IN_FULL = 9
"""A sentence names so many terminals or pins; more are counted by function."""

Node: TypeAlias = tuple[str, object]
Network: TypeAlias = dict[Node, dict[Node, None]]
"""Which node leads to which, in the order entered, so that the answer is the same each time."""


@dataclass(frozen=True, slots=True)
class PinContest:
    """Terminals that have nowhere else to go, and the fewer pins they compete for.

    `need` is what all those pins have in common ("any": they are all the free pins), `sentence` says it with
    numbers and names.
    """

    need: str
    terminals: tuple[str, ...]
    pins: tuple[str, ...]
    sentence: str


def pin_contest(
    pins: Sequence[Pin],
    functions: Sequence[FunctionNeed],
    link: Sequence[TerminalNeed],
    locked: Sequence[PinUse],
) -> PinContest | None:
    """The terminals and pins that explain why not every function fits.

    Args:
        pins: Usable pins of the board.
        functions: All functions wanted on the board, in list order.
        link: Terminals of the link to the computer.
        locked: Terminals held on their pins; both are out of the contest.

    Returns:
        The scarcest contest: terminals that together can use fewer pins than they are. None where everything
        fits.

    Raises:
        LockRefused: a lock cannot stand.
        ValueError: keys come twice or a terminal is not well said.

    Holds as `pin_fit` does. Functions whose pins cannot be counted take no part.

    Source: D. Koenig 1931 and P. Hall 1935 (marriage theorem): a set can be matched in full if and only if no
    part of it has fewer neighbours than members; the part is read off the last failed search of an augmenting
    path (standard; statement from memory). Departure: two pins of one pulse-width output count as one, and
    each way to lay buses on peripherals and to shape the matrix is tried.

    Example:
        >>> pins = [Pin("A0", frozenset({"in", "analogue:0"})), Pin("D2", frozenset({"in", "out"}))]
        >>> knobs = [FunctionNeed(key, (TerminalNeed("wiper", "analogue"),)) for key in ("F1", "F2")]
        >>> pin_contest(pins, knobs, [], []).sentence
        '2 terminals compete for 1 analogue pin: F1 wiper and F2 wiper for A0'
    """
    terminals = board_terminals(functions, link)
    held = held_pins(pins, terminals, locked)
    held_labels = {pin.label for pin in held.values()}
    free_pins = [pin for pin in pins if pin.label not in held_labels]
    owners = [
        *(function.own for function in terminals.functions),
        *terminals.groups.values(),
        terminals.link,
    ]
    units = [unit for owner in owners for unit in bus_units(owner, BUS_OF_ABILITY)]
    crowded = _crowded_bus(units, free_pins, held)
    if crowded:
        return crowded
    best: tuple[int, int, PinContest] | None = None
    for way in islice(_ways(units, free_pins, held, terminals), MOST_WAYS):
        wanted = [t for t in (*(t for owner in owners for t in owner), *way.matrix) if t not in held]
        found = _contest(wanted, free_pins, way)
        if found is None:
            return None
        if best is None or found[:2] < best[:2]:
            best = found
        # More terminals than pins with the smallest matrix: no other way helps.
        if len(wanted) > len(free_pins):
            break
    return best[2] if best else None


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to lay buses on peripherals, locked pulse-width terminals on outputs, and to shape the matrix."""

    peripherals: Mapping[Terminal, str]
    outputs: frozenset[str]
    matrix: tuple[Terminal, ...]


def _crowded_bus(
    units: Sequence[Sequence[Terminal]], free_pins: Sequence[Pin], held: Mapping[Terminal, Pin]
) -> PinContest | None:
    """A contest for peripherals, where there are more buses of a kind than peripherals that can serve them."""
    for bus in dict.fromkeys(BUS_OF_ABILITY.values()):
        rivals = [unit for unit in units if BUS_OF_ABILITY[unit[0].ability] == bus]
        options = [_peripherals(unit, free_pins, held) for unit in rivals]
        split = [
            k
            for k, option in enumerate(options)
            if not option and _each_has_a_pin(rivals[k], free_pins, held)
        ]
        if split:
            rivals, options = [rivals[split[0]]], [[]]
        elif not all(options) or next(_laid(options), None) is not None:
            continue
        instances = sorted({instance for option in options for instance in option})
        abilities = sorted({terminal.ability for unit in rivals for terminal in unit})
        used = [
            pin.label
            for pin in [*free_pins, *held.values()]
            if any(ability_instances(pin, ability) & set(instances) for ability in abilities)
            or (split and any(ability_instances(pin, ability) for ability in abilities))
        ]
        names = tuple(terminal.full_name for unit in rivals for terminal in unit)
        sentence = (
            f"{_counted(len(rivals), bus)} {'competes' if len(rivals) == 1 else 'compete'} for "
            f"{_counted(len(instances), 'peripheral')} of the chip: {_listed(names)}"
        )
        return PinContest(abilities[0], names, tuple(used), sentence)
    return None


def _each_has_a_pin(unit: Sequence[Terminal], free_pins: Sequence[Pin], held: Mapping[Terminal, Pin]) -> bool:
    return all(t in held or any(meets_need(pin, t.need) for pin in free_pins) for t in unit)


def _peripherals(
    unit: Sequence[Terminal], free_pins: Sequence[Pin], held: Mapping[Terminal, Pin]
) -> list[str]:
    """Peripherals that have a pin for each terminal of a bus."""
    sets = [
        frozenset[str]().union(
            *(
                ability_instances(pin, terminal.ability)
                for pin in ([held[terminal]] if terminal in held else free_pins)
            )
        )
        for terminal in unit
    ]
    return sorted(frozenset.intersection(*sets))


def _laid(options: Sequence[Sequence[str]], taken: frozenset[str] = frozenset()) -> Iterator[tuple[str, ...]]:
    """Each way to give every one of several an option that no other has."""
    if not options:
        yield ()
        return
    for option in options[0]:
        if option not in taken:
            for rest in _laid(options[1:], taken | {option}):
                yield (option, *rest)


def _ways(
    units: Sequence[Sequence[Terminal]],
    free_pins: Sequence[Pin],
    held: Mapping[Terminal, Pin],
    terminals: BoardTerminals,
) -> Iterator[_Way]:
    """Each way, those with the smallest matrix first."""
    per_bus: list[list[dict[Terminal, str]]] = []
    for bus in dict.fromkeys(BUS_OF_ABILITY.values()):
        rivals = [unit for unit in units if BUS_OF_ABILITY[unit[0].ability] == bus]
        served = [(unit, options) for unit in rivals if (options := _peripherals(unit, free_pins, held))]
        per_bus.append(
            [
                {t: instance for (unit, _), instance in zip(served, way, strict=True) for t in unit}
                for way in islice(_laid([options for _, options in served]), MOST_WAYS)
            ]
        )
    locked = [ability_instances(pin, "pulse") for t, pin in held.items() if t.ability == "pulse"]
    outputs = [sorted(instances) for instances in locked if "" not in instances]
    for matrix in _matrices(terminals.contacts, held):
        for taken in dict.fromkeys(frozenset(way) for way in islice(_laid(outputs), MOST_WAYS)):
            for ways in product(*per_bus):
                yield _Way({t: instance for way in ways for t, instance in way.items()}, taken, matrix)


def _matrices(contacts: int, held: Mapping[Terminal, Pin]) -> list[tuple[Terminal, ...]]:
    if not contacts:
        return [()]
    locked = [terminal.name.split() for terminal in held if terminal.group == MATRIX]
    least_rows = max((int(number) for kind, number in locked if kind == "row"), default=1)
    least_columns = max((int(number) for kind, number in locked if kind == "column"), default=1)
    shapes = {(rows, max(least_columns, -(-contacts // rows))) for rows in range(least_rows, contacts + 1)}
    ordered = sorted(shapes, key=lambda shape: (sum(shape), shape[0] * shape[1], shape))
    return [matrix_terminals(rows, columns) for rows, columns in ordered]


def _contest(
    wanted: Sequence[Terminal],
    free_pins: Sequence[Pin],
    way: _Way,
) -> tuple[int, int, PinContest] | None:
    """The scarcest contest of one way: terminals too many, pins in it, and the contest; None if all fit."""
    network = _network(wanted, free_pins, way)
    order = sorted(range(len(wanted)), key=lambda k: len(network["terminal", k]))
    reaches = [reach for k in order if (reach := _augmented(network, ("terminal", k)))]
    if not reaches:
        return None
    reach = min(reaches, key=lambda nodes: sum(kind in ("pin", "output") for kind, _ in nodes))
    first = _network(wanted, free_pins, way)
    rivals = [t for k, t in enumerate(wanted) if reach.issuperset(first["terminal", k])]
    outputs = [name for kind, name in reach if kind == "output" and ("output out", name) not in reach]
    reached = {name for kind, name in reach if kind == "pin"}
    fought = [
        pin for pin in free_pins if pin.label in reached or ability_instances(pin, "pulse") & set(outputs)
    ]
    size = len(reached) + len(outputs)
    return len(reaches), size, _told(rivals, fought, free_pins, size, has_outputs=bool(outputs))


def _network(
    wanted: Sequence[Terminal],
    free_pins: Sequence[Pin],
    way: _Way,
) -> Network:
    """Terminals lead to pins, pulse-width terminals by way of outputs, pins to the end; each takes one."""
    network: Network = {("pin", pin.label): {("end", ""): None} for pin in free_pins}
    network["end", ""] = {}
    for k, terminal in enumerate(wanted):
        leads: dict[Node, None] = {}
        network["terminal", k] = leads
        for pin in free_pins:
            if terminal.ability == "pulse":
                for output in sorted(ability_instances(pin, "pulse") - way.outputs):
                    if output == "":
                        leads["pin", pin.label] = None
                        continue
                    leads["output", output] = None
                    network["output", output] = {("output out", output): None}
                    network.setdefault(("output out", output), {})["pin", pin.label] = None
            elif terminal in way.peripherals:
                if way.peripherals[terminal] in ability_instances(pin, terminal.ability):
                    leads["pin", pin.label] = None
            elif meets_need(pin, terminal.need):
                leads["pin", pin.label] = None
    return network


def _augmented(network: Network, start: Node) -> frozenset[Node]:
    """Lead one terminal to a pin, moving others aside; all that was reached if there is no way."""
    came_from: dict[Node, Node] = {start: start}
    front = [start]
    for node in front:
        for onward in network[node]:
            if onward in came_from:
                continue
            came_from[onward] = node
            front.append(onward)
            if onward == ("end", ""):
                while onward != start:
                    before = came_from[onward]
                    del network[before][onward]
                    network[onward][before] = None
                    onward = before
                return frozenset()
    return frozenset(came_from)


def _told(
    rivals: Sequence[Terminal],
    fought: Sequence[Pin],
    free_pins: Sequence[Pin],
    size: int,
    *,
    has_outputs: bool,
) -> PinContest:
    common = [
        need
        for need, _ in Counter(terminal.need for terminal in rivals).most_common()
        if {pin.label for pin in free_pins if meets_need(pin, need)} <= {pin.label for pin in fought}
        and all(meets_need(pin, need) for pin in fought)
    ]
    common.sort(
        key=lambda need: need not in ("out", "in")
    )  # where plain terminals compete too, say it plainly
    is_all = len(fought) == len(free_pins) and len({terminal.need for terminal in rivals}) > 1
    need = ANY_PIN if is_all or not common else common[0]
    word = "pulse-width output" if has_outputs else PIN_WORDS[need]
    names = tuple(terminal.full_name for terminal in rivals)
    labels = tuple(pin.label for pin in fought)
    verb = "competes" if len(names) == 1 else "compete"
    sentence = f"{_counted(len(names), 'terminal')} {verb} for {_counted(size, word)}"
    if len(names) <= NAMES_IN_FULL:
        sentence += f": {_listed(names)}"
    else:
        owners = Counter(terminal.function or terminal.group or "link" for terminal in rivals)
        sentence += f": {_listed([f'{count} of {owner}' for owner, count in owners.items()])}"
    if 0 < len(labels) <= NAMES_IN_FULL:
        sentence += f" for {_listed(labels)}"
    return PinContest(need, names, labels, sentence)


def _counted(number: int, word: str) -> str:
    plural = word + ("es" if word.endswith("s") else "s")
    return f"{number or 'no'} {word if number == 1 else plural}"


def _listed(names: Sequence[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)
