"""Pins the builder has locked: whether each lock can stand, and what it holds."""

from collections.abc import Mapping, Sequence

from app.calculations.board_terminals import BoardTerminals, Terminal, bus_units, matrix_terminals
from app.calculations.pin_ability import BUS_OF_ABILITY, Pin, PinUse, ability_instances, meets_need
from app.calculations.pin_demand import MATRIX


class LockRefused(Exception):
    """A lock cannot stand; the message says why and `uses` holds the locks in question."""

    def __init__(self, reason: str, uses: tuple[PinUse, ...]) -> None:
        super().__init__(reason)
        self.uses = uses


def held_pins(
    pins: Sequence[Pin], terminals: BoardTerminals, locked: Sequence[PinUse]
) -> dict[Terminal, Pin]:
    """Which terminal each lock holds, and on which pin.

    Args:
        pins: Usable pins of the board.
        terminals: What the board's functions and its link need.
        locked: Locks of the builder.

    Returns:
        Terminal and pin of each lock, in the order of the locks.

    Raises:
        LockRefused: a lock names a pin or a terminal that is not there, lacks the ability, comes twice, or
            two of one bus lie at different peripherals.
    """
    by_label = {pin.label: pin for pin in pins}
    held: dict[Terminal, Pin] = {}
    first_use: dict[str, PinUse] = {}
    for use in locked:
        pin = by_label.get(use.pin)
        if pin is None:
            raise LockRefused(f"The board has no usable pin {use.pin}.", (use,))
        if use.pin in first_use:
            other = first_use[use.pin].terminal
            raise LockRefused(
                f"Pin {use.pin} is locked twice, for {other} and {use.terminal}.", (first_use[use.pin], use)
            )
        terminal = _terminal(terminals, use)
        if terminal is None:
            whose = use.function or use.group or "the link"
            raise LockRefused(f"No terminal {use.terminal} of {whose} is on this board.", (use,))
        if terminal in held:
            raise LockRefused(
                f"{terminal.full_name} is locked on two pins, {held[terminal].label} and {use.pin}.",
                (first_use[held[terminal].label], use),
            )
        if not meets_need(pin, terminal.need):
            abilities = ", ".join(sorted(pin.abilities)) or "nothing"
            raise LockRefused(
                f"{terminal.full_name} needs {terminal.need!r}; pin {use.pin} can do {abilities}.", (use,)
            )
        held[terminal] = pin
        first_use[use.pin] = use
    _refuse_split_buses(terminals, held, first_use)
    _refuse_one_output_twice(held, first_use)
    return held


def _terminal(terminals: BoardTerminals, use: PinUse) -> Terminal | None:
    function, group = use.function or None, use.group or None
    if function is not None:
        candidates: Sequence[Terminal] = [
            terminal for owner in terminals.functions if owner.key == function for terminal in owner.own
        ]
        for unknown in terminals.unknown:
            if unknown.key == function:
                candidates = [
                    Terminal(function, None, use.terminal, need.need)
                    for need in unknown.terminals
                    if need.need not in ("contact", "none")
                    and not need.shared_as
                    and (
                        use.terminal == need.name
                        or (need.per_position and use.terminal.rpartition(" ")[0] == need.name)
                    )
                ]
    elif group == MATRIX:
        kind, _, number = use.terminal.partition(" ")
        if not terminals.contacts or not number.isdecimal() or not 1 <= int(number) <= terminals.contacts:
            return None
        candidates = matrix_terminals(int(number), 0) if kind == "row" else matrix_terminals(0, int(number))
    elif group is not None:
        candidates = terminals.groups.get(group, ())
    else:
        candidates = terminals.link
    return next((terminal for terminal in candidates if terminal.name == use.terminal), None)


def _refuse_split_buses(
    terminals: BoardTerminals, held: Mapping[Terminal, Pin], first_use: Mapping[str, PinUse]
) -> None:
    owners = [*(function.own for function in terminals.functions), *terminals.groups.values(), terminals.link]
    for unit in (unit for owner in owners for unit in bus_units(owner, BUS_OF_ABILITY)):
        locked = [terminal for terminal in unit if terminal in held]
        instances = [ability_instances(held[terminal], terminal.ability) for terminal in locked]
        if instances and not frozenset.intersection(*instances):
            names = " and ".join(f"{t.full_name} on pin {held[t].label}" for t in locked)
            raise LockRefused(
                f"{names} do not meet at one {BUS_OF_ABILITY[locked[0].ability]}.",
                tuple(first_use[held[terminal].label] for terminal in locked),
            )


def _refuse_one_output_twice(held: Mapping[Terminal, Pin], first_use: Mapping[str, PinUse]) -> None:
    taken: dict[str, Terminal] = {}
    outputs = {
        terminal: ability_instances(pin, "pulse") - {""}
        for terminal, pin in held.items()
        if terminal.ability == "pulse" and "" not in ability_instances(pin, "pulse")
    }

    def found_for(terminal: Terminal, asked: set[str]) -> bool:
        for output in sorted(outputs[terminal] - asked):
            asked.add(output)
            if output not in taken or found_for(taken[output], asked):
                taken[output] = terminal
                return True
        return False

    for terminal in outputs:
        asked: set[str] = set()
        if not found_for(terminal, asked):
            rivals = [other for other in outputs if outputs[other] <= asked]
            names = " and ".join(f"{other.full_name} on pin {held[other].label}" for other in rivals)
            raise LockRefused(
                f"{names} would share pulse-width output {', '.join(sorted(asked))}.",
                tuple(first_use[held[other].label] for other in rivals),
            )
