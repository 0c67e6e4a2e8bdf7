"""Pins with something to mind: whether what sits on them suits it (C2)."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from app.planning.board_matrix import matrix_functions
from app.planning.board_pins import about_board, is_usable
from app.planning.finding import Finding
from app.planning.plan import FunctionRow, Plan
from app.tables import Board, ModulePin, PinUse

START_UP = re.compile(r"\bat (reset|start-up|power-up|boot)\b|\bboot\b", re.IGNORECASE)
MUST_BE_LOW = re.compile(r"\bmust be low\b", re.IGNORECASE)
UPLOADS = re.compile(r"\bupload", re.IGNORECASE)
NO_PULL_UP = re.compile(r"\bno pull-up\b", re.IGNORECASE)
LED = re.compile(r"\bLED\b")
MEMORY = re.compile(r"\bmemory on modules\b", re.IGNORECASE)
RADIO = re.compile(r"\bradio\b", re.IGNORECASE)
FALSE_INTERRUPTS = re.compile(r"\bno interrupts\b", re.IGNORECASE)
MUST_NOT_SOURCE = re.compile(r"\bmust not source\b", re.IGNORECASE)
JUDGED = (START_UP, UPLOADS, NO_PULL_UP, LED, MEMORY, RADIO, FALSE_INTERRUPTS, MUST_NOT_SOURCE)

LINK_GROUP = "serial"
MATRIX_GROUP = "matrix"
READ_NEEDS = frozenset({"in", "interrupt", "contact"})
MOST_PINS_NAMED = 3
SOURCE = "pins read at start-up or shared with something on the module: its data sheet and pin table"


@dataclass(frozen=True, slots=True)
class _Load:
    """What sits on a pin: its words, the functions behind it, what it needs, and whether it only acts for moments."""

    words: str
    functions: tuple[FunctionRow, ...]
    need: str
    is_momentary: bool
    is_sourcing: bool


@dataclass(frozen=True, slots=True)
class _Matter:
    """Why a condition matters for what a pin carries, and the words in it that say so."""

    verdict: str
    why: str
    words: re.Pattern[str]


def special_pin_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """Pins in use whose condition matters for what they carry; one finding a pin.

    What the words of a condition say is looked for in them: read at start-up, no pull-up, an LED or memory on
    the module, uploads, radio, false interrupts, no sourcing. Other words stand beside the pin in its drawing and
    are not judged. The pins of the computer link are where they belong.
    """
    pins = {pin.label: pin for pin in plan.pins.get(board.module_id, ()) if pin.condition}
    findings = []
    suited = []
    for use in plan.pin_uses.get(board.id or 0, ()):
        pin = pins.get(use.pin_label)
        if pin is None or (use.function_id is None and use.group_name == LINK_GROUP):
            continue
        load = _load(plan, board, use)
        matter = _judged(load, pin.condition)
        if matter is not None:
            findings.append(_finding(plan, board, pin, load, matter))
        elif any(words.search(pin.condition) for words in JUDGED):
            suited.append(pin.label)
    if suited and not findings:
        return (_fine(plan, board, suited),)
    return tuple(findings)


def _judged(load: _Load, condition: str) -> _Matter | None:
    """Why a pin's condition matters for what it carries; None where it does not.

    >>> lever = _Load("F001", (), "in", False, False)
    >>> _judged(lever, "must be high at reset").verdict
    'stop'
    >>> lamp = _Load("F002", (), "out", False, True)
    >>> _judged(lamp, "must be high at reset") is None
    True
    """
    is_read = load.need in READ_NEEDS
    if START_UP.search(condition):
        if is_read or load.need == "analogue":
            if load.is_momentary:
                return _Matter("caution", "held while the board starts, it decides how it starts", START_UP)
            return _Matter("stop", "its position when the board starts decides how it starts", START_UP)
        if load.need in ("sda", "scl") and MUST_BE_LOW.search(condition):
            return _Matter("stop", "the pull-up of the bus holds it high when the board starts", START_UP)
    matters = (
        (NO_PULL_UP, is_read, "caution", "a contact here is open without a resistor of its own"),
        (UPLOADS, not START_UP.search(condition), "caution", "what sits here is in the way of uploads"),
        (MEMORY, True, "caution", "on a module with that memory it is not free"),
        (LED, is_read or load.need == "analogue", "caution", "the LED loads what is read here"),
        (RADIO, load.need == "analogue", "stop", "it cannot be read while the radio is on"),
        (FALSE_INTERRUPTS, _is_by_interrupt(load), "caution", "it is read by interrupt"),
        (MUST_NOT_SOURCE, load.is_sourcing, "stop", "it is made to source current"),
    )
    for words, applies, verdict, why in matters:
        if applies and words.search(condition):
            return _Matter(verdict, why, words)
    return None


def _is_by_interrupt(load: _Load) -> bool:
    return load.need == "interrupt" or any(function.read_by == "interrupt" for function in load.functions)


def _load(plan: Plan, board: Board, use: PinUse) -> _Load:
    if use.function_id is not None and use.function_id in plan.functions:
        function = plan.functions[use.function_id]
        component = plan.component_of(function)
        terminals = plan.terminals.get(function.component_id or 0, ())
        need = next((t.need for t in terminals if t.name == use.terminal), "out")
        return _Load(
            words=f"{function.code} {function.name} ({use.terminal})",
            functions=(function,),
            need=need,
            is_momentary=function.kind == "button" or use.terminal == "push",
            is_sourcing=component is not None and component.drive_is == "source" and need == "out",
        )
    if use.group_name == MATRIX_GROUP:
        behind = tuple(matrix_functions(plan, board))
        return _Load(
            words=f"the matrix ({use.terminal})",
            functions=behind,
            need="in" if use.terminal.startswith("column") else "out",
            is_momentary=all(function.kind == "button" for function in behind),
            is_sourcing=False,
        )
    behind = tuple(
        function
        for function in plan.functions_by_board.get(board.id or 0, ())
        if any(t.shared_as == use.group_name for t in plan.terminals.get(function.component_id or 0, ()))
    )
    needs = [
        t.need
        for function in behind
        for t in plan.terminals.get(function.component_id or 0, ())
        if t.shared_as == use.group_name and t.name == use.terminal
    ]
    return _Load(
        words=f"the {use.terminal} line of {len(behind)} function{'' if len(behind) == 1 else 's'}",
        functions=behind,
        need=needs[0] if needs else "out",
        is_momentary=False,
        is_sourcing=False,
    )


def _finding(plan: Plan, board: Board, pin: ModulePin, load: _Load, matter: _Matter) -> Finding:
    free = _free_pins(plan, board, load.need)
    one = len(free) == 1
    remedy = (
        f"Move it to {', '.join(free[:MOST_PINS_NAMED])}: {len(free)} pin{' is' if one else 's are'} free for it "
        "with nothing to mind."
        if free
        else "0 pins with nothing to mind are free for it: move something else off one first."
    )
    return Finding(
        verdict=matter.verdict,  # type: ignore[arg-type]  # one of the literals
        about=about_board(plan, board, load.functions),
        sentence=(
            f"{load.words} sits on {board.code}'s pin {pin.label}, and {matter.why}: "
            f"“{_said(pin.condition, matter.words)}”."
        ),
        remedies=(remedy,),
        source_mark=plan.modules[board.module_id].figures_mark,
        source=SOURCE,
        mend_at=f"/boards/{board.code}",
        mend_word="See the board's pins",
    )


def _said(condition: str, words: re.Pattern[str]) -> str:
    """The part of a condition that holds the words, with what it says not to do.

    >>> _said("must be low at reset; do not use for a switch; shared with the radio", START_UP)
    'must be low at reset; do not use for a switch'
    """
    kept: list[str] = []
    parts = condition.split("; ")
    for before, part in zip(["", *parts], parts, strict=False):
        if words.search(part) or (kept and kept[-1] == before and part.startswith("do not")):
            kept.append(part)
    return "; ".join(kept)


def _free_pins(plan: Plan, board: Board, need: str) -> list[str]:
    """Labels of free pins of that ability with nothing to mind, in the module's order."""
    used = {use.pin_label for use in plan.pin_uses.get(board.id or 0, ())}
    return [
        pin.label
        for pin in plan.pins.get(board.module_id, ())
        if is_usable(pin)
        and not pin.condition
        and pin.label not in used
        and need in {token.partition(":")[0] for token in pin.abilities.split()}
    ]


def _fine(plan: Plan, board: Board, used: Sequence[str]) -> Finding:
    one = len(used) == 1
    return Finding(
        verdict="fine",
        about=about_board(plan, board),
        sentence=(
            f"Pin{'' if one else 's'} {', '.join(used)} of {board.code} {'has' if one else 'have'} something to "
            f"mind, and what {'it carries suits it' if one else 'they carry suits them'}."
        ),
        remedies=(),
        source_mark=plan.modules[board.module_id].figures_mark,
        source=SOURCE,
        mend_at=f"/boards/{board.code}",
        mend_word="See the board's pins",
    )
