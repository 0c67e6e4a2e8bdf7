"""Classes of pins that are alike for what is asked of a board."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from app.calculations.board_terminals import Terminal
from app.calculations.pin_ability import BUS_OF_ABILITY, Pin, ability_instances, ability_names


@dataclass(frozen=True, slots=True)
class PinClass:
    """Pins that are alike for all that is asked of this board."""

    names: frozenset[str]
    outputs: frozenset[str]
    buses: frozenset[str]
    pins: tuple[Pin, ...]


def scarce_abilities(alike: PinClass) -> frozenset[str]:
    """The abilities asked for that pins of a class have; a pull-up costs nothing to use."""
    names = (
        alike.names | ability_names(alike.buses) | (frozenset({"pulse"}) if alike.outputs else frozenset())
    )
    return names - {"pullup"}


def pin_classes(pins: Sequence[Pin], asked: Iterable[str], held: Mapping[Terminal, Pin]) -> list[PinClass]:
    """Free pins that are alike for what is asked, merged.

    Instances of analogue inputs and interrupts do not matter, nor does a pulse-width output that no other pin
    shares; the instance of a bus and of a shared output does.
    """
    wanted = set(asked)
    plain = (wanted - BUS_OF_ABILITY.keys() - {"pulse"}) | ({"pullup"} if "in" in wanted else set())
    held_labels = {pin.label for pin in held.values()}
    rivals = [pin for t, pin in held.items() if t.ability == "pulse"]
    free = [pin for pin in pins if pin.label not in held_labels]
    outputs = Counter(output for pin in [*free, *rivals] for output in ability_instances(pin, "pulse"))
    members: dict[tuple[frozenset[str], frozenset[str], frozenset[str]], list[Pin]] = {}
    for pin in free:
        names = ability_names(pin.abilities) & plain
        shared: frozenset[str] = frozenset()
        if "pulse" in wanted:
            instances = ability_instances(pin, "pulse")
            if any(output == "" or outputs[output] == 1 for output in instances):
                names |= {"pulse"}
            else:
                shared = instances
        buses = frozenset(
            f"{name}:{instance}"
            for name, _, instance in (token.partition(":") for token in pin.abilities)
            if name in BUS_OF_ABILITY and name in wanted
        )
        members.setdefault((names, shared, buses), []).append(pin)
    return [PinClass(*kind, tuple(alike)) for kind, alike in members.items()]
