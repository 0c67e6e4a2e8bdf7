"""Levels at a board's pins: outputs to parts of another voltage, and the current that keeps contacts clean (C9, B7)."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from app import units
from app.calculations.contact_current import ContactCurrent, contact_current
from app.calculations.logic_level import LogicLevel, logic_level
from app.calculations.source_mark import weakest
from app.planning.board_bus import bus_devices
from app.planning.board_entries import CONTACT_KINDS
from app.planning.board_pins import about_board, terminal_needs
from app.planning.board_timing import PIXEL_LIBRARY
from app.planning.finding import Finding
from app.planning.function_names import function_names
from app.planning.plan import FunctionRow, Plan
from app.tables import Board, BoardBus, Component

LEVEL_SOURCE = (
    "an input reads a high from 0.7 of its supply and takes 0.3 V over it at most, where no more is listed: "
    "data sheets of usual CMOS parts"
)
CONTACT_SOURCE = (
    "the current through a contact is the supply over its pull-up; the least it needs is on its data sheet"
)
HIGH_SHARE = 0.7
CONTACT_NEEDS = frozenset({"in", "interrupt", "contact"})


def level_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """What is said of a board's levels and contacts; nothing of what it does not have."""
    return (
        *_output_findings(plan, board),
        *_bus_level_findings(plan, board),
        *_contact_findings(plan, board),
    )


# Outputs to parts of another voltage (C9)


def _output_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """One finding a component driven by the board's outputs whose own supply is entered or must be."""
    driven: dict[int, list[FunctionRow]] = defaultdict(list)
    for function in plan.functions_by_board.get(board.id or 0, ()):
        component = plan.component_of(function)
        if component is not None and (
            component.input_supply_v is not None or _is_pixel_chain(plan, component)
        ):
            driven[component.id or 0].append(function)
    return tuple(
        _output_finding(plan, board, plan.components[id_], functions) for id_, functions in driven.items()
    )


def _is_pixel_chain(plan: Plan, component: Component) -> bool:
    return any(
        plan.libraries[id_].code == PIXEL_LIBRARY
        for id_ in plan.component_libraries.get(component.id or 0, ())
    )


def _output_finding(plan: Plan, board: Board, part: Component, functions: Sequence[FunctionRow]) -> Finding:
    module = plan.modules[board.module_id]
    level = logic_level(module.logic_v or None, part.input_supply_v or None, high_share=HIGH_SHARE)
    parts = f"{len(functions)} × {part.name}"
    if level.missing:
        names = {
            "output high": f"the voltage of {module.name}",
            "supply of the input": f"the supply of {part.name}",
        }
        sentence = (
            f"{board.code} drives {parts}, but whether its high is read cannot be told: not entered: "
            f"{', '.join(names[name] for name in level.missing)}"
        )
    else:
        sentence = (
            f"{board.code}'s outputs are high at {units.show(level.output_high_v or 0, 'V')}; {parts} "
            f"{'runs' if len(functions) == 1 else 'run'} from {units.show(part.input_supply_v or 0, 'V')} and "
            f"{'reads' if len(functions) == 1 else 'read'} a high from "
            f"{units.show(level.needed_v or 0, 'V')}{_fault(level)}"
        )
    lines = sum(1 for terminal in terminal_needs(plan, part.id or 0) if terminal.shared_as)
    lines += len(functions) * sum(1 for t in terminal_needs(plan, part.id or 0) if not t.shared_as)
    return Finding(
        verdict=level.verdict,  # type: ignore[arg-type]  # one of the literals
        about=about_board(plan, board, functions if level.faults else ()),
        sentence=sentence + ".",
        remedies=_level_remedies(level, lines),
        source_mark=weakest([part.electrical_mark, module.figures_mark]) if not level.missing else None,
        source=LEVEL_SOURCE,
        mend_at=f"/components/{part.code}" if "supply of the input" in level.missing else _record(board),
        mend_word="See the levels",
    )


def _bus_level_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """A bus pulled up to another voltage than the board's; nothing where the bus follows the board."""
    bus: BoardBus | None = plan.buses.get(board.id or 0)
    module = plan.modules[board.module_id]
    if bus is None or not bus.supply_v or bus.supply_v == module.logic_v or not bus_devices(plan, board):
        return ()
    level = logic_level(bus.supply_v, module.logic_v or None, high_share=HIGH_SHARE)
    if level.missing:
        sentence = (
            f"{board.code}'s bus is pulled up to {units.show(bus.supply_v, 'V')}, but the voltage of "
            f"{module.name} is not entered"
        )
    else:
        sentence = (
            f"{board.code}'s bus is pulled up to {units.show(bus.supply_v, 'V')}; its pins read a high from "
            f"{units.show(level.needed_v or 0, 'V')} and take {units.show(level.most_v or 0, 'V')} at most"
            f"{_fault(level)}"
        )
    return (
        Finding(
            verdict=level.verdict,  # type: ignore[arg-type]  # one of the literals
            about=about_board(plan, board),
            sentence=sentence + ".",
            remedies=(
                f"Pull the bus up to {units.show(module.logic_v or 0, 'V')}, the board's own voltage.",
                "A two-way level shifter of 2 channels between board and bus.",
            )
            if level.faults
            else (),
            source_mark=weakest([bus.figures_mark, module.figures_mark]),
            source=LEVEL_SOURCE,
            mend_at=_record(board),
            mend_word="See the bus",
        ),
    )


def _fault(level: LogicLevel) -> str:
    if "too low" in level.faults:
        return f": {units.show(-(level.margin_v or 0), 'V')} too low"
    if "too high" in level.faults:
        over = (level.output_high_v or 0) - (level.most_v or 0)
        return f": {units.show(over, 'V')} over what they take"
    return ""


def _level_remedies(level: LogicLevel, lines: int) -> tuple[str, ...]:
    if not level.faults:
        return ()
    shifter = f"A level shifter of {lines} channel{'' if lines == 1 else 's'} in between."
    if "too low" in level.faults:
        at_most = (level.output_high_v or 0) / HIGH_SHARE
        return (
            shifter,
            f"Run the parts from {units.show(at_most, 'V', 2)} at most: a high is read from "
            f"{units.show(level.output_high_v or 0, 'V')} then.",
            f"A part that is listed to read a high from {units.show(level.output_high_v or 0, 'V')} or less.",
        )
    return (shifter, f"A part that takes {units.show(level.output_high_v or 0, 'V')} at its input.")


# Contacts (B7)


@dataclass(frozen=True, slots=True)
class _PullUp:
    """The pull-up that a contact is read through."""

    name: str
    ohm: float | None
    weakest_ohm: float | None
    mark: str


def _contact_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """Contacts against the current that keeps them clean: those alike in one finding, the good ones in one."""
    module = plan.modules[board.module_id]
    volts = module.logic_v or None
    groups: dict[tuple[_PullUp, float], list[FunctionRow]] = defaultdict(list)
    unknown: list[FunctionRow] = []
    for function in plan.functions_by_board.get(board.id or 0, ()):
        pull_up = _pull_up_of(plan, board, function)
        if pull_up is None:
            continue
        if function.contact_least_ma is None:
            unknown.append(function)
        else:
            groups[pull_up, function.contact_least_ma].append(function)
    findings = []
    good: list[tuple[_PullUp, float, ContactCurrent, list[FunctionRow]]] = []
    for (pull_up, least_ma), functions in groups.items():
        found = contact_current(volts, pull_up.ohm, pull_up.weakest_ohm, least_ma)
        if found.verdict == "fine":
            good.append((pull_up, least_ma, found, functions))
        else:
            findings.append(_contact_finding(plan, board, functions, pull_up, least_ma, found))
    if unknown:
        findings.append(_unentered_contacts(plan, board, unknown))
    if good:
        findings.append(_good_contacts(plan, board, good))
    return tuple(findings)


def _pull_up_of(plan: Plan, board: Board, function: FunctionRow) -> _PullUp | None:
    """What a function's contact is read through: the board's own pull-up or its carrier's; None for no contact.

    A selector on a resistor ladder has no contact of that kind: its wiper is read as a voltage.
    """
    component = plan.component_of(function)
    if component is None or function.kind not in CONTACT_KINDS:
        return None
    if component.carrier_id is not None:
        carrier = plan.carriers[component.carrier_id]
        return _PullUp(
            f"the {carrier.name}'s pull-up",
            carrier.input_pull_up_ohm,
            carrier.input_pull_up_weakest_ohm,
            carrier.input_pull_up_mark,
        )
    if not any(t.need in CONTACT_NEEDS for t in plan.terminals.get(component.id or 0, ())):
        return None
    module = plan.modules[board.module_id]
    return _PullUp(
        "the board's own pull-up", module.pull_up_ohm, module.pull_up_weakest_ohm, module.figures_mark
    )


def _contact_finding(
    plan: Plan,
    board: Board,
    functions: Sequence[FunctionRow],
    pull_up: _PullUp,
    least_ma: float,
    found: ContactCurrent,
) -> Finding:
    volts = plan.modules[board.module_id].logic_v or 0.0
    names = function_names(functions)
    if found.verdict == "cannot tell":
        missing = {
            "supply": "the board's voltage",
            "weakest pull-up": f"{pull_up.name} at its weakest",
            "least current": "the least current",
        }
        sentence = (
            f"What flows through the contacts of {names} on {board.code} cannot be told: not entered: "
            f"{', '.join(missing[name] for name in found.missing)}"
        )
    else:
        sentence = (
            f"{names} on {board.code} carr{'ies' if len(functions) == 1 else 'y'} {_through(pull_up, found)} "
            f"at {units.show(volts, 'V')}, but {units.show(least_ma, 'mA')} keeps "
            f"{'its contact' if len(functions) == 1 else 'their contacts'} clean"
        )
    remedies: tuple[str, ...] = ()
    if found.verdict == "caution":
        at_most = found.weakest_ma if found.weakest_ma is not None else found.typical_ma or 0.0
        ohm = found.resistor_to_add_ohm or found.pull_up_needed_ohm or 0.0
        remedies = (
            f"A resistor of {units.show(ohm, 'ohm', 0)} at most from {'it' if len(functions) == 1 else 'each'} "
            f"to {units.show(volts, 'V')}: {units.show(least_ma, 'mA')} while it is closed.",
            f"Gold contacts, made for {_ma(at_most)} or less.",
        )
    return Finding(
        verdict=found.verdict,  # type: ignore[arg-type]  # one of the literals
        about=about_board(plan, board, functions),
        sentence=sentence + ".",
        remedies=remedies,
        source_mark=_contact_mark(functions, pull_up),
        source=CONTACT_SOURCE,
        mend_at=_record(board),
        mend_word="See the contacts",
    )


def _through(pull_up: _PullUp, found: ContactCurrent) -> str:
    weakest_part = ""
    if found.weakest_ma is not None and pull_up.weakest_ohm is not None:
        weakest_part = (
            f" ({_ma(found.weakest_ma)} at its weakest, {units.show(pull_up.weakest_ohm / 1000, 'kohm')})"
        )
    if found.typical_ma is None or pull_up.ohm is None:
        return f"little{weakest_part} through {pull_up.name}"
    return (
        f"{_ma(found.typical_ma)} through {pull_up.name} of "
        f"{units.show(pull_up.ohm / 1000, 'kohm')}{weakest_part}"
    )


def _unentered_contacts(plan: Plan, board: Board, unknown: Sequence[FunctionRow]) -> Finding:
    return Finding(
        verdict="cannot tell",
        about=about_board(plan, board, unknown),
        sentence=(
            f"Whether contacts on {board.code} stay clean cannot be told: no least current is entered for "
            f"{function_names(unknown)}."
        ),
        remedies=(
            "Enter the least current of each: some 10 mA for silver contacts made for a load, 0.01 mA for gold.",
        ),
        source_mark=None,
        source=CONTACT_SOURCE,
        mend_at=_record(board),
        mend_word="Enter the least current",
    )


def _good_contacts(
    plan: Plan, board: Board, good: Sequence[tuple[_PullUp, float, ContactCurrent, list[FunctionRow]]]
) -> Finding:
    functions = [function for group in good for function in group[3]]
    pull_up, least_ma, found, _ = min(good, key=lambda group: (group[2].weakest_ma or 0.0) - group[1])
    return Finding(
        verdict="fine",
        about=about_board(plan, board),
        sentence=(
            f"{len(functions)} contact function{' carries' if len(functions) == 1 else 's carry'} enough to stay "
            f"clean on {board.code}: at least {_ma(found.weakest_ma or 0.0)} through "
            f"{pull_up.name}, {units.show(least_ma, 'mA')} needed."
        ),
        remedies=(),
        source_mark=weakest(mark for group in good for mark in (_contact_mark(group[3], group[0]),)),
        source=CONTACT_SOURCE,
        mend_at=_record(board),
        mend_word="See the contacts",
    )


def _contact_mark(functions: Sequence[FunctionRow], pull_up: _PullUp) -> str:
    return weakest([pull_up.mark, *(function.contact_mark for function in functions)]) or "assumed"


def _ma(current_ma: float) -> str:
    """A small current, at three digits.

    >>> _ma(0.142857), _ma(0.1)
    ('0.143 mA', '0.1 mA')
    """
    return units.show(float(f"{current_ma:.3g}"), "mA")


def _record(board: Board) -> str:
    return f"/boards/{board.code}/record"
