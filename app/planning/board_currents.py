"""Currents through a board's pins: each pin, groups of them and the whole chip against its limits (C8)."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor

from app import units
from app.calculations.board_current import BoardCurrent, CurrentPath, LimitLoad, PinLimit, board_current
from app.calculations.source_mark import weakest
from app.planning.board_pins import about_board
from app.planning.finding import Finding, percent
from app.planning.function_names import function_codes, function_names
from app.planning.plan import FunctionRow, Plan
from app.tables import Board, Component, ModuleLimit

# Words in the basis of a limit beyond which a level is no longer kept, while nothing is harmed.
LEVEL_ONLY = ("test point", "drive setting", "typical")
NO_LIMIT_SOURCE = "the limits of a chip stand in its data sheet"
MOST_PINS_NAMED = 3
HAIR = 1e-9
DIRECTION_WORDS = {"sink": "sunk", "source": "sourced"}


@dataclass(frozen=True, slots=True)
class _Drives:
    """Currents through a board's pins, the functions they belong to, and those whose pins are not placed."""

    paths: tuple[CurrentPath, ...]
    functions: tuple[FunctionRow, ...]
    unplaced: tuple[FunctionRow, ...]


def current_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """What a board's pins sink and source, all at once, against the limits of its chip; nothing without a load.

    A part driven through a register, an expander or a driver loads no pin of the board.
    """
    drives = _drives(plan, board)
    if not drives.functions:
        return ()
    rows = plan.limits.get(board.module_id, ())
    current = board_current(drives.paths, [_limit(row) for row in rows])
    missing = _missing(plan, drives, rows, plan.modules[board.module_id].name)
    verdict = current.verdict
    if missing and verdict == "fine":
        verdict = "cannot tell"
    over = [load for load in current.loads if load.verdict in ("stop", "caution")]
    worst = max(over or current.loads, key=lambda load: (load.verdict == "stop", load.share), default=None)
    sentence = f"{board.code}'s pins drive {function_codes(drives.functions)} directly"
    if worst is not None:
        sentence = _sentence(board, worst, current, len(over))
    if missing:
        sentence += f"; not entered: {', '.join(missing)}"
    by_code = {function.code: function for function in drives.functions}
    loading = [by_code[code] for code in dict.fromkeys(p.split()[0] for p in worst.paths)] if worst else []
    components = [c for f in drives.functions if (c := plan.component_of(f)) is not None]
    return (
        Finding(
            verdict=verdict,  # type: ignore[arg-type]  # one of the literals
            about=about_board(plan, board, loading if over else drives.unplaced),
            sentence=sentence + ".",
            remedies=_remedies(worst, loading) if over and worst is not None else (),
            source_mark=weakest(
                [*(c.electrical_mark for c in components), plan.modules[board.module_id].figures_mark]
            ),
            source=_source(rows, worst),
            mend_at=f"/boards/{board.code}",
            mend_word="See the board's pins",
        ),
    )


def _drives(plan: Plan, board: Board) -> _Drives:
    pins: dict[tuple[int, str], str] = {
        (use.function_id, use.terminal): use.pin_label
        for use in plan.pin_uses.get(board.id or 0, ())
        if use.function_id is not None
    }
    paths: list[CurrentPath] = []
    functions: list[FunctionRow] = []
    unplaced: list[FunctionRow] = []
    for function in plan.functions_by_board.get(board.id or 0, ()):
        component = plan.component_of(function)
        if component is None or component.drive_is not in ("sink", "source", "coil"):
            continue
        names = [t.name for t in plan.terminals.get(component.id or 0, ()) if t.need in ("out", "pulse")]
        placed = [(name, pins[function.id, name]) for name in names if (function.id, name) in pins]
        functions.append(function)
        if len(placed) < len(names):
            unplaced.append(function)
        paths += _paths(function, component, placed)
    return _Drives(tuple(paths), tuple(functions), tuple(unplaced))


def _paths(
    function: FunctionRow, component: Component, placed: Sequence[tuple[str, str]]
) -> list[CurrentPath]:
    """The currents of one function: a coil between each two of its pins in order, else one a pin."""
    if component.drive_is == "coil":
        return [
            CurrentPath(f"{function.code} {name}", component.drive_ma, pin, other, is_reversible=True)
            for number, ((name, pin), (_, other)) in enumerate(pairwise(placed))
            if number % 2 == 0
        ]
    return [
        CurrentPath(
            f"{function.code} {name}",
            component.drive_ma,
            source_pin=pin if component.drive_is == "source" else "",
            sink_pin=pin if component.drive_is == "sink" else "",
        )
        for name, pin in placed
    ]


def _limit(row: ModuleLimit) -> PinLimit:
    return PinLimit(
        row.scope,
        row.direction,
        row.limit_ma,
        tuple(row.pin_labels.split()),
        is_absolute=not any(word in row.basis for word in LEVEL_ONLY),
        name=row.basis,
    )


def _missing(
    plan: Plan,
    drives: _Drives,
    rows: Sequence[ModuleLimit],
    module_name: str,
) -> list[str]:
    unknown = dict.fromkeys(
        component.name
        for function in drives.functions
        if (component := plan.component_of(function)) is not None and component.drive_ma is None
    )
    missing = [f"the current of {name}" for name in unknown]
    if drives.unplaced:
        missing.append(f"pins for {function_names(drives.unplaced)}")
    if not rows:
        missing.append(f"the current limits of {module_name}")
    return missing


def _sentence(board: Board, worst: LimitLoad, current: BoardCurrent, over: int) -> str:
    sentence = f"{board.code}'s worst load is {_load(worst)}"
    if worst.limit.scope != "chip":
        chip = max(
            (load for load in current.loads if load.limit.scope == "chip"),
            key=lambda load: load.share,
            default=None,
        )
        if chip is not None:
            sentence += (
                f"; its whole chip has {units.show(chip.load_ma, 'mA')} of "
                f"{units.show(chip.limit.limit_ma, 'mA')} {DIRECTION_WORDS[chip.direction]}"
            )
    if over > 1:
        sentence += f"; {over} limits in all are passed"
    return sentence


def _load(load: LimitLoad) -> str:
    limit = load.limit
    where = {"pin": f"on pin {load.pin}", "chip": "on the whole chip"}.get(limit.scope, "")
    if limit.scope == "group":
        more = len(limit.pins) - MOST_PINS_NAMED
        where = f"on pins {', '.join(limit.pins[:MOST_PINS_NAMED])}{f' and {more} more' if more > 0 else ''}"
    return (
        f"{units.show(load.load_ma, 'mA')} {DIRECTION_WORDS[load.direction]} {where}, "
        f"{percent(load.share)} of {units.show(limit.limit_ma, 'mA')} ({limit.name or 'limit'})"
    )


def _remedies(worst: LimitLoad, loading: Sequence[FunctionRow]) -> tuple[str, ...]:
    limit = worst.limit
    each = limit.limit_ma / len(worst.paths)
    remedies = []
    if limit.scope == "group":
        keep = floor(each / (worst.load_ma / len(worst.paths)) * len(worst.paths) * (1 + HAIR))
        remedies.append(
            f"Move {len(worst.paths) - keep} of its {len(worst.paths)} currents to pins outside this group: "
            f"{keep} stay within {units.show(limit.limit_ma, 'mA')}."
        )
    remedies.append(
        f"{units.show(each, 'mA')} each instead of {units.show(worst.load_ma / len(worst.paths), 'mA')}, "
        "by larger resistors."
    )
    remedies.append(
        f"Drive {function_names(loading)} through driver chips: 0 mA of {units.show(worst.load_ma, 'mA')} "
        "stay on these pins."
    )
    return tuple(remedies)


def _source(rows: Sequence[ModuleLimit], worst: LimitLoad | None) -> str:
    if worst is None:
        return NO_LIMIT_SOURCE
    limit = worst.limit
    found = next((row for row in rows if _limit(row) == limit), None)
    return f"{limit.name}: {found.source}" if found and found.source else limit.name or NO_LIMIT_SOURCE
