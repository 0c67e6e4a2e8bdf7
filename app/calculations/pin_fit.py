"""Which terminal goes on which pin of a board, and which functions find no place."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.calculations.board_terminals import Terminal, board_terminals, matrix_terminals
from app.calculations.pin_ability import Pin, PinUse, ability_names
from app.calculations.pin_demand import FunctionNeed, TerminalNeed
from app.calculations.pin_lock import LockRefused, held_pins
from app.calculations.pin_model import Need, PinModel, PinSpread

__all__ = ["LockRefused", "Pin", "PinFit", "PinUse", "pin_fit"]

HOPING_SHARE = 0.4
"""Share of the time for the plan that places everything, tried first."""
CHOOSING_SHARE = 0.8
"""Share of the time after which functions are chosen; the rest is kept for giving them pins."""
FUNCTIONS_AT_ONCE = 8
"""Ties are settled for so many functions in one solve: gains of 128 down to 1 are told apart safely."""


@dataclass(frozen=True, slots=True)
class PinFit:
    """A pin plan: uses of pins, and the functions left out, in list order.

    `is_best_found` says that time ran out before the answer was proven the best. `moved` counts terminals
    that were in place and now sit on another pin. `is_link_placed` is false where even the link to the
    computer finds no pins; nothing else is placed then. A function whose pins cannot be counted is in
    `unknown`, neither placed nor left out.
    """

    uses: tuple[PinUse, ...]
    left_out: tuple[str, ...]
    is_best_found: bool
    moved: int
    is_link_placed: bool = True
    unknown: tuple[str, ...] = ()


def pin_fit(
    pins: Sequence[Pin],
    functions: Sequence[FunctionNeed],
    link: Sequence[TerminalNeed],
    *,
    locked: Sequence[PinUse] = (),
    in_place: Sequence[PinUse] = (),
    time_limit_s: float = 5.0,
) -> PinFit:
    """The assignment of terminals to pins that places as many whole functions as there is room for.

    Args:
        pins: Usable pins of the board; a pin not named here carries nothing.
        functions: Functions on the board, in list order.
        link: Terminals of the link to the computer, placed before all functions.
        locked: Terminals held on their pins. A lock holds its pin even where its function is left out.
        in_place: Terminals as they sit now; they stay where that costs no function its place.
        time_limit_s: Seconds after which the best plan found so far is taken, 0 or more.

    Returns:
        The plan. The number of whole functions placed is the largest there is; of equal numbers, the first
        function in list order that tells two plans apart is placed. A shared group is placed once, if a
        placed function uses it; it has, of each need, as many terminals as its most demanding user. The
        matrix is as small as the placed contacts and the pins allow.

    Raises:
        LockRefused: a lock cannot stand; its `uses` name the locks.
        ValueError: keys come twice or a terminal is not well said.

    Holds where a terminal takes one pin, pins of one pulse-width instance are one output, and a peripheral
    serves one bus. An input with a pull-up is preferred to one without; timers and pin-change groups are not
    looked at.

    Source: an assignment with side conditions, solved exactly as a whole-number program; alike pins are
    merged into classes and alike functions ordered, which loses no solution.

    Example:
        >>> pins = [Pin("D2", frozenset({"in", "out"})), Pin("A0", frozenset({"in", "out", "analogue:0"}))]
        >>> knob = FunctionNeed("F1", (TerminalNeed("wiper", "analogue"),))
        >>> lamp = FunctionNeed("F2", (TerminalNeed("lamp", "out"),))
        >>> fit = pin_fit(pins, [lamp, knob], [])
        >>> [(use.pin, use.function) for use in fit.uses]
        [('D2', 'F2'), ('A0', 'F1')]
    """
    terminals = board_terminals(functions, link)
    held = held_pins(pins, terminals, locked)
    model = PinModel(pins, terminals, held, in_place)
    is_proven, is_link_placed, spread = _solved(model, time_limit_s)
    uses = {terminal: pin.label for terminal, pin in held.items()}
    uses |= _dealt(model, spread)
    order = {pin.label: number for number, pin in enumerate(pins)}
    return PinFit(
        uses=tuple(terminal.on(pin) for terminal, pin in sorted(uses.items(), key=lambda use: order[use[1]])),
        left_out=tuple(
            function.key
            for function, placed in zip(terminals.functions, spread.is_placed, strict=True)
            if not placed
        ),
        is_best_found=not is_proven,
        moved=_moved(uses, in_place),
        is_link_placed=is_link_placed,
        unknown=tuple(function.key for function in terminals.unknown),
    )


def _solved(model: PinModel, time_limit_s: float) -> tuple[bool, bool, PinSpread]:
    """Whether the plan is proven best, whether the link is placed, and the plan."""
    count = len(model.functions)
    nothing = PinSpread((False,) * count, {}, {}, (0, 0))
    outcome, spread = model.spread_out([True] * count, time_limit_s * HOPING_SHARE)
    if outcome.values:
        return outcome.verdict == "proven", True, spread
    spent_s = outcome.seconds
    is_placed, is_proven, seconds = _chosen(model, time_limit_s * CHOOSING_SHARE - spent_s)
    if is_placed is None:
        return is_proven, not is_proven, nothing
    outcome, spread = model.spread_out(is_placed, time_limit_s - spent_s - seconds)
    if not outcome.values:
        return False, False, nothing
    return is_proven and outcome.verdict == "proven", True, spread


def _chosen(model: PinModel, time_limit_s: float) -> tuple[list[bool] | None, bool, float]:
    """Which functions are placed (none if not even the link can be), whether proven, and the seconds."""
    outcome = model.place_most(time_limit_s)
    seconds = outcome.seconds
    if not outcome.values:
        return None, outcome.verdict == "impossible", seconds
    best = _placed(model, outcome.values)
    if outcome.verdict != "proven":
        return best, False, seconds
    model.keep_count(sum(best))
    follows = {later: earlier for earlier, later in model.alike}
    settled: set[int] = set()
    while True:
        # An alike function after one that is left out is left out too: no solve is needed for it.
        for k in range(len(best)):
            if k not in settled and follows.get(k) in settled and not best[follows[k]]:
                settled.add(k)
        next_ones = [k for k in range(len(best)) if k not in settled][:FUNCTIONS_AT_ONCE]
        if not next_ones:
            return best, True, seconds
        if not all(best[k] for k in next_ones):
            outcome = model.place_first(next_ones, time_limit_s - seconds)
            seconds += outcome.seconds
            if outcome.values:
                best = _placed(model, outcome.values)
            if outcome.verdict != "proven":
                return best, False, seconds
        for k in next_ones:
            model.program.fix(model.functions[k].active, float(best[k]))
        settled |= set(next_ones)


def _placed(model: PinModel, values: Sequence[float]) -> list[bool]:
    return [values[owner.active] > 0.5 for owner in model.functions]


def _dealt(model: PinModel, spread: PinSpread) -> dict[Terminal, str]:
    """Pins dealt out of their classes: the least able first, neighbours to the terminals of one function."""
    uses = {terminal: pin.label for terminal, pin in spread.staying.items()}
    taken = set(uses.values())
    order = {pin.label: number for number, pin in enumerate(model.pins)}
    left = dict(spread.counts)
    todo = list(_todo(model, spread))
    for terminal, need in todo:
        if terminal in spread.staying:
            at = next(k for k, alike in enumerate(model.classes) if spread.staying[terminal] in alike.pins)
            left[need, at] -= 1
    chosen: dict[int, list[int]] = {}
    for k, alike in enumerate(model.classes):
        free = [pin for pin in alike.pins if pin.label not in taken]
        free.sort(key=lambda pin: (len(ability_names(pin.abilities)), order[pin.label]))
        number = sum(count for (_, at), count in left.items() if at == k)
        chosen[k] = sorted(order[pin.label] for pin in free[:number])
    before: tuple[str | None, str | None] | None = None
    last = -1
    for terminal, need in todo:
        if (terminal.function, terminal.group) != before:
            before, last = (terminal.function, terminal.group), -1
        if terminal in uses:
            last = order[uses[terminal]]
            continue
        places = [
            (abs(pin - last - 1), pin, k) for k in chosen if left.get((need, k), 0) for pin in chosen[k]
        ]
        _, last, at = min(places)
        chosen[at].remove(last)
        left[need, at] -= 1
        uses[terminal] = model.pins[last].label
    return uses


def _todo(model: PinModel, spread: PinSpread) -> list[tuple[Terminal, Need]]:
    if not spread.counts and not spread.staying:
        return []
    is_placed = dict(zip((owner.active for owner in model.functions), spread.is_placed, strict=True))
    used = {
        *model.terminals.link_groups,
        *(
            group
            for owner, placed in zip(model.functions, spread.is_placed, strict=True)
            if placed
            for group in owner.groups
        ),
    }
    for group, owner in model.groups.items():
        is_placed[owner.active] = group in used
    todo = [(terminal, need) for terminal, need, owner in model.needs() if is_placed.get(owner.active, True)]
    todo.sort(key=lambda want: isinstance(want[1], str))  # buses first, so that their pins are neighbours
    return [*todo, *((t, t.ability) for t in matrix_terminals(*spread.matrix) if t not in model.held)]


def _moved(uses: dict[Terminal, str], in_place: Sequence[PinUse]) -> int:
    now = {(terminal.function, terminal.group, terminal.name): pin for terminal, pin in uses.items()}
    places = ((use.pin, (use.function or None, use.group or None, use.terminal)) for use in in_place)
    return sum(1 for pin, place in places if place in now and now[place] != pin)
