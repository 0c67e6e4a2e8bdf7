"""The pin fit as a whole-number program: classes of alike pins, owners of terminals, buses, the matrix."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from app.calculations.board_terminals import BoardTerminals, Terminal, bus_units
from app.calculations.pin_ability import (
    BUS_OF_ABILITY,
    Pin,
    PinUse,
    ability_instances,
    meets_need,
)
from app.calculations.pin_class import PinClass, pin_classes, scarce_abilities
from app.calculations.pin_demand import MATRIX
from app.calculations.whole_number_program import NO_LIMIT, ProgramOutcome, WholeNumberProgram

MATRIX_PIN_COST = 1000
"""A pin saved in the matrix is worth more than any pin that stays put."""
CROSSING_COST = 10
STAYING_GAIN = 100
"""A terminal that stays on its pin is worth more than any scarce ability spared."""
NO_PULLUP_COST = 10
"""An input without a pull-up of its own is the second choice: it wants a resistor. It outweighs abilities spared."""

Need: TypeAlias = str | tuple[int, str]
"""What a row of the program spreads over pin classes: an ability, or an ability of one bus unit."""


@dataclass(slots=True)
class Owner:
    """What is placed as a whole: a function, a shared group, or the link."""

    terminals: tuple[Terminal, ...]
    active: int
    groups: tuple[str, ...] = ()
    contacts: int = 0


@dataclass(frozen=True, slots=True)
class BusUnit:
    """Terminals of one owner that must meet at one peripheral."""

    owner: Owner
    bus: str
    free: tuple[Terminal, ...]
    chosen: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class PinSpread:
    """A solution: which functions are placed, and how many terminals of each need go to each pin class."""

    is_placed: tuple[bool, ...]
    counts: Mapping[tuple[Need, int], int]
    staying: Mapping[Terminal, Pin]
    matrix: tuple[int, int]


@dataclass(slots=True)
class PinModel:
    """The program for one board."""

    pins: Sequence[Pin]
    terminals: BoardTerminals
    held: Mapping[Terminal, Pin]
    in_place: Sequence[PinUse]
    program: WholeNumberProgram = field(default_factory=WholeNumberProgram)
    classes: list[PinClass] = field(default_factory=list)
    link: Owner = field(init=False)
    functions: list[Owner] = field(default_factory=list)
    groups: dict[str, Owner] = field(default_factory=dict)
    units: list[BusUnit] = field(default_factory=list)
    spread: dict[tuple[Need, int], list[int]] = field(default_factory=dict)
    rows: dict[int, int] = field(default_factory=dict)
    columns: dict[int, int] = field(default_factory=dict)
    stays: dict[Terminal, tuple[int, Pin]] = field(default_factory=dict)
    alike: list[tuple[int, int]] = field(default_factory=list)
    placed_row: int = 0

    def __post_init__(self) -> None:
        """Build the program."""
        self._add_owners()
        asked = {terminal.ability for owner in self._owners for terminal in owner.terminals}
        if self.terminals.contacts:
            asked |= {"out", "in"}
        self.classes = pin_classes(self.pins, asked, self.held)
        self._add_matrix()
        self._add_spread(asked)
        self._add_staying()

    # The unknowns and rows ---------------------------------------------------------------------------------

    @property
    def _owners(self) -> list[Owner]:
        return [*self.functions, *self.groups.values(), self.link]

    def _free(self, terminals: Iterable[Terminal]) -> tuple[Terminal, ...]:
        return tuple(terminal for terminal in terminals if terminal not in self.held)

    def _add_owners(self) -> None:
        program = self.program
        self.link = Owner(self._free(self.terminals.link), program.unknown(1, 1, whole=False))
        for group, terminals in self.terminals.groups.items():
            least = 1 if group in self.terminals.link_groups else 0
            self.groups[group] = Owner(self._free(terminals), program.unknown(least, 1, whole=False))
        last_alike: dict[object, int] = {}
        for number, function in enumerate(self.terminals.functions):
            owner = Owner(
                self._free(function.own),
                program.unknown(0, 1, whole=True),
                function.groups,
                function.contacts,
            )
            self.functions.append(owner)
            for group in function.groups:
                program.row([(self.groups[group].active, 1), (owner.active, -1)], 0, NO_LIMIT)
            has_bus_lock = any(
                terminal.ability in BUS_OF_ABILITY for terminal in function.own if terminal in self.held
            )
            kind = (
                frozenset(Counter(terminal.ability for terminal in owner.terminals).items()),
                frozenset(function.groups),
                function.contacts,
                function.key if has_bus_lock else None,
            )
            if kind in last_alike:
                before = last_alike[kind]
                self.alike.append((before, number))
                program.row([(self.functions[before].active, 1), (owner.active, -1)], 0, NO_LIMIT)
            last_alike[kind] = number
        self.placed_row = program.row([(owner.active, 1) for owner in self.functions], 0, NO_LIMIT)

    def _add_matrix(self) -> None:
        contacts = self.terminals.contacts
        if not contacts:
            return
        least_rows, least_columns = self._locked_size("row"), self._locked_size("column")
        program = self.program
        for row_count in range(max(1, least_rows), contacts + 1):
            most = max(-(-contacts // row_count), least_columns)
            is_so = program.unknown(0, 1, whole=True)
            columns = program.unknown(0, most, whole=True)
            program.row([(columns, 1), (is_so, -most)], -NO_LIMIT, 0)
            program.row([(columns, 1), (is_so, -max(1, least_columns))], 0, NO_LIMIT)
            self.rows[row_count], self.columns[row_count] = is_so, columns
        program.row([(is_so, 1) for is_so in self.rows.values()], 0, 1)
        program.row(
            [
                *((columns, row_count) for row_count, columns in self.columns.items()),
                *((owner.active, -owner.contacts) for owner in self.functions),
            ],
            0,
            NO_LIMIT,
        )

    def _locked_size(self, kind: str) -> int:
        numbers = [
            int(terminal.name.split()[1])
            for terminal in self.held
            if terminal.group == MATRIX and terminal.name.startswith(kind)
        ]
        return max(numbers, default=0)

    def _add_spread(self, asked: Iterable[str]) -> None:
        self._add_bus_units()
        demand: dict[str, list[tuple[int, float]]] = {}
        for owner in self._owners:
            for ability, count in Counter(terminal.ability for terminal in owner.terminals).items():
                if ability not in BUS_OF_ABILITY:
                    demand.setdefault(ability, []).append((owner.active, -count))
        held = Counter(terminal.name.split()[0] for terminal in self.held if terminal.group == MATRIX)
        for row_count, is_so in self.rows.items():
            demand.setdefault("out", []).append((is_so, held["row"] - row_count))
            demand.setdefault("in", []).extend([(self.columns[row_count], -1), (is_so, held["column"])])
        outputs: dict[str, list[tuple[int, float]]] = {}
        for ability in sorted(asked):
            if ability not in BUS_OF_ABILITY:
                terms = list(demand.get(ability, ()))
                for number, alike in enumerate(self.classes):
                    terms += [(unknown, 1) for unknown in self._uses(ability, number, alike, outputs)]
                self.program.row(terms, 0, 0)
        self._add_outputs(outputs)
        for number, alike in enumerate(self.classes):
            uses = [unknown for (_, at), cell in self.spread.items() if at == number for unknown in cell]
            if uses:
                self.program.row([(unknown, 1) for unknown in uses], 0, len(alike.pins))

    def _uses(
        self, ability: str, number: int, alike: PinClass, outputs: dict[str, list[tuple[int, float]]]
    ) -> list[int]:
        size = len(alike.pins)
        cell: list[int] = []
        if ability in alike.names:
            cell = [self.program.unknown(0, size, whole=False)]
        elif ability == "pulse":
            for output in sorted(alike.outputs):
                unknown = self.program.unknown(0, 1, whole=False)
                outputs.setdefault(output, []).append((unknown, 1))
                cell.append(unknown)
        if cell:
            self.spread[ability, number] = cell
        return cell

    def _add_outputs(self, outputs: dict[str, list[tuple[int, float]]]) -> None:
        for terminal, pin in self.held.items():
            if terminal.ability == "pulse":
                instances = ability_instances(pin, "pulse")
                if "" in instances:
                    continue
                choices = {output: self.program.unknown(0, 1, whole=True) for output in sorted(instances)}
                self.program.row([(unknown, 1) for unknown in choices.values()], 1, 1)
                for output, unknown in choices.items():
                    outputs.setdefault(output, []).append((unknown, 1))
        for terms in outputs.values():
            self.program.row(terms, 0, 1)

    def _add_bus_units(self) -> None:
        claims: dict[tuple[str, str], list[int]] = {}
        owned = [
            *zip((function.own for function in self.terminals.functions), self.functions, strict=True),
            *zip(self.terminals.groups.values(), self.groups.values(), strict=True),
            (self.terminals.link, self.link),
        ]
        for terminals, owner in owned:
            for unit in bus_units(terminals, BUS_OF_ABILITY):
                bus = BUS_OF_ABILITY[unit[0].ability]
                free = self._free(unit)
                chosen = {
                    instance: self.program.unknown(0, 1, whole=True) for instance in self._instances(unit)
                }
                for instance, unknown in chosen.items():
                    claims.setdefault((bus, instance), []).append(unknown)
                self.program.row([*((u, 1) for u in chosen.values()), (owner.active, -1)], 0, 0)
                number = len(self.units)
                self.units.append(BusUnit(owner, bus, free, chosen))
                for terminal in free:
                    for instance, unknown in chosen.items():
                        terms: list[tuple[int, float]] = [(unknown, -1)]
                        for at, alike in enumerate(self.classes):
                            if f"{terminal.ability}:{instance}" in alike.buses:
                                use = self.program.unknown(0, 1, whole=False)
                                self.spread.setdefault(((number, terminal.ability), at), []).append(use)
                                terms.append((use, 1))
                        self.program.row(terms, 0, 0)
        for unknowns in claims.values():
            if len(unknowns) > 1:
                self.program.row([(unknown, 1) for unknown in unknowns], 0, 1)

    def _instances(self, unit: Sequence[Terminal]) -> list[str]:
        """Peripherals at which all terminals of a bus unit can meet."""
        sets = []
        for terminal in unit:
            pin = self.held.get(terminal)
            if pin is not None:
                sets.append(ability_instances(pin, terminal.ability))
            else:
                tokens = [token.partition(":") for alike in self.classes for token in alike.buses]
                sets.append(frozenset(token[2] for token in tokens if token[0] == terminal.ability))
        return sorted(frozenset.intersection(*sets))

    def _add_staying(self) -> None:
        class_of = {
            pin.label: (number, pin) for number, alike in enumerate(self.classes) for pin in alike.pins
        }
        wanted = {(use.function or None, use.group or None, use.terminal): use.pin for use in self.in_place}
        per_cell: dict[tuple[Need, int], list[int]] = {}
        taken: set[str] = set()
        for terminal, need, active in self._wanted_terminals():
            label = wanted.get((terminal.function, terminal.group, terminal.name))
            if label is None or label in taken or label not in class_of:
                continue
            number, pin = class_of[label]
            if meets_need(pin, terminal.need) and (need, number) in self.spread:
                taken.add(label)
                stay = self.program.unknown(0, 1, whole=True)
                self.stays[terminal] = (stay, pin)
                self.program.row([(stay, -1), *active], 0, NO_LIMIT)
                per_cell.setdefault((need, number), []).append(stay)
        for cell, stays in per_cell.items():
            terms: list[tuple[int, float]] = [(unknown, 1) for unknown in self.spread[cell]]
            self.program.row([*terms, *((stay, -1) for stay in stays)], 0, NO_LIMIT)

    def _wanted_terminals(self) -> Iterable[tuple[Terminal, Need, list[tuple[int, float]]]]:
        """Each free terminal, the need it is spread by, and the sum that is at least 1 where it is wanted."""
        for terminal, need, owner in self.needs():
            yield terminal, need, [(owner.active, 1)]
        for use in self.in_place:
            if use.group != MATRIX or not self.rows:
                continue
            kind, _, number = use.terminal.partition(" ")
            if not number.isdecimal() or not 1 <= int(number) <= self.terminals.contacts:
                continue
            is_row = kind == "row"
            terminal = Terminal(None, MATRIX, use.terminal, "out" if is_row else "in")
            if terminal in self.held or kind not in ("row", "column"):
                continue
            if is_row:
                yield terminal, "out", [(so, 1) for rows, so in self.rows.items() if rows >= int(number)]
            else:
                yield terminal, "in", [(columns, 1 / int(number)) for columns in self.columns.values()]

    def needs(self) -> Iterable[tuple[Terminal, Need, Owner]]:
        """Each free terminal of functions, groups and link, with the need it is spread by and its owner."""
        unit_of = {terminal: number for number, unit in enumerate(self.units) for terminal in unit.free}
        for owner in self._owners:
            for terminal in owner.terminals:
                number = unit_of.get(terminal)
                yield terminal, terminal.ability if number is None else (number, terminal.ability), owner

    # Solving -----------------------------------------------------------------------------------------------

    def place_most(self, time_limit_s: float) -> ProgramOutcome:
        """The largest number of functions placed."""
        return self.program.solve({owner.active: 1.0 for owner in self.functions}, time_limit_s)

    def place_first(self, functions: Sequence[int], time_limit_s: float) -> ProgramOutcome:
        """Of a few functions, the first in list order rather than any number of later ones."""
        gains = {self.functions[k].active: 2.0**-at for at, k in enumerate(functions)}
        return self.program.solve(
            {k: gain * 2 ** (len(functions) - 1) for k, gain in gains.items()}, time_limit_s
        )

    def keep_count(self, count: int) -> None:
        """Place exactly so many functions from now on."""
        self.program.row_lower[self.placed_row] = self.program.row_upper[self.placed_row] = count

    def spread_out(self, is_placed: Sequence[bool], time_limit_s: float) -> tuple[ProgramOutcome, PinSpread]:
        """Give pins to these functions: a small matrix, few moves, scarce abilities spared, in that order."""
        program = self.program
        limits = program.lower[:], program.upper[:], program.is_whole[:]
        for owner, placed in zip(self.functions, is_placed, strict=True):
            program.fix(owner.active, float(placed))
        used = {
            *self.terminals.link_groups,
            *(
                group
                for owner, placed in zip(self.functions, is_placed, strict=True)
                if placed
                for group in owner.groups
            ),
        }
        for group, owner in self.groups.items():
            program.fix(owner.active, float(group in used))
        for cell in self.spread.values():
            for unknown in cell:
                program.is_whole[unknown] = True
        outcome = program.solve(self._gains(), time_limit_s)
        program.lower, program.upper, program.is_whole = limits
        return outcome, self._read(is_placed, outcome.values)

    def _gains(self) -> dict[int, float]:
        gains: dict[int, float] = {}
        for (need, number), cell in self.spread.items():
            ability = need if isinstance(need, str) else need[1]
            alike = self.classes[number]
            cost = len(scarce_abilities(alike) - {ability})
            if ability == "in" and "pullup" not in alike.names:
                cost += NO_PULLUP_COST
            gains.update(dict.fromkeys(cell, -cost))
        for rows, is_so in self.rows.items():
            gains[is_so] = -(MATRIX_PIN_COST + 1) * rows
            gains[self.columns[rows]] = -(MATRIX_PIN_COST + CROSSING_COST * rows)
        gains.update({stay: STAYING_GAIN for stay, _ in self.stays.values()})
        return gains

    def _read(self, is_placed: Sequence[bool], values: Sequence[float]) -> PinSpread:
        if not values:
            return PinSpread(tuple(is_placed), {}, {}, (0, 0))
        counts = {
            key: count for key, cell in self.spread.items() if (count := round(sum(values[u] for u in cell)))
        }
        staying = {terminal: pin for terminal, (stay, pin) in self.stays.items() if values[stay] > 0.5}
        rows = next((rows for rows, is_so in self.rows.items() if values[is_so] > 0.5), 0)
        columns = round(values[self.columns[rows]]) if rows else 0
        return PinSpread(tuple(is_placed), counts, staying, (rows, columns))
