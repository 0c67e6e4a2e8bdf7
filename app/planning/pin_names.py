"""The names that a board's program calls its pins by, and where a program's own list disagrees with the plan."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.calculations.pin_identifier import PinIdentifier, PinName, pin_identifiers
from app.calculations.pin_name_difference import PinNameDifference, pin_name_difference
from app.planning.board_pins import about_board
from app.planning.board_sheet import PinLine, board_sheet
from app.planning.cockpit_result import BoardResult
from app.planning.finding import Finding, Verdict
from app.planning.firmware_upload import plain_file_name
from app.planning.plan import Plan
from app.readers.pin_header import HEADER_MAX_BYTES, PinHeader, PinHeaderRefused, read_pin_header

__all__ = ["HEADER_MAX_BYTES", "PinHeaderRefused", "PinNames", "pin_names", "take_pin_header"]

LINK = "link"
LINK_GROUP = "serial"
NAMED_AT_MOST = 4


@dataclass(frozen=True, slots=True)
class PinNameLine:
    """One pin of the module; the terminal and the identifier where it is in use."""

    line: PinLine
    terminal: str
    identifier: PinIdentifier | None


@dataclass(frozen=True, slots=True)
class PinNames:
    """The pins of a board in the order of its module; `named` are those in use."""

    lines: tuple[PinNameLine, ...]
    named: tuple[PinIdentifier, ...]

    @property
    def changed(self) -> tuple[PinIdentifier, ...]:
        """The names that are not the plain ones: made distinct, cut, or rid of what C does not have."""
        return tuple(pin for pin in self.named if pin.note)

    @property
    def without_number(self) -> tuple[PinIdentifier, ...]:
        """The names whose pin has a label that a program cannot use."""
        return tuple(pin for pin in self.named if not pin.number)


@dataclass(frozen=True, slots=True)
class TakenHeader:
    """An uploaded header or source, where it disagrees with the plan, and the verdict."""

    header: PinHeader
    difference: PinNameDifference
    lines: dict[str, int]
    finding: Finding


def pin_names(plan: Plan, result: BoardResult) -> PinNames:
    """The pins of a board with a name for each in use."""
    uses = {use.pin_label: use for use in plan.pin_uses.get(result.board.id or 0, ())}
    pins = board_sheet(plan, result).pins
    in_use = [line for line in pins if line.pin.label in uses]
    named = pin_identifiers(
        [_pin_name(line, uses[line.pin.label].group_name, uses[line.pin.label].terminal) for line in in_use],
        chip=result.module.chip,
    )
    by_label = {pin.pin.pin_label: pin for pin in named}
    return PinNames(
        lines=tuple(
            PinNameLine(
                line,
                uses[line.pin.label].terminal if line.pin.label in uses else "",
                by_label.get(line.pin.label),
            )
            for line in pins
        ),
        named=named,
    )


def take_pin_header(plan: Plan, result: BoardResult, file_name: str, data: bytes) -> TakenHeader:
    """Hold a header or source against the plan of a board; nothing of it is kept.

    Raises:
        PinHeaderRefused: the file cannot be read.
    """
    names = pin_names(plan, result)
    header = read_pin_header(data, plain_file_name(file_name))
    labels = {
        line.line.pin.chip_pin: line.line.pin.label
        for line in names.lines
        if line.line.pin.chip_pin and not line.line.pin.chip_pin.isdigit()
    }
    difference = pin_name_difference(
        names.named,
        [(pin.name, pin.pin) for pin in header.pins],
        chip=result.module.chip,
        labels=labels,
    )
    return TakenHeader(
        header=header,
        difference=difference,
        lines={pin.name: pin.line for pin in header.pins},
        finding=_finding(plan, result, header, difference),
    )


def _pin_name(line: PinLine, group: str, terminal: str) -> PinName:
    function = line.function
    if function is not None:
        return PinName(function.code, function.name, terminal, line.pin.label)
    return PinName("", LINK if group in ("", LINK_GROUP) else group, terminal, line.pin.label)


def _finding(plan: Plan, result: BoardResult, header: PinHeader, difference: PinNameDifference) -> Finding:
    agrees, moved = len(difference.agrees), len(difference.moved)
    missing, unknown = len(difference.missing), len(difference.unknown)
    planned = agrees + moved + missing
    code, file_name = result.board.code, header.file_name
    verdict: Verdict = "fine"
    remedies: list[str] = []
    if not planned:
        verdict = "cannot tell"
        sentence = f"{code} has no pin in use, so there is nothing to hold {file_name} against"
    elif not header.pins:
        verdict = "cannot tell"
        sentence = f"{file_name} gives no name a pin that could be read, and {code} has {planned} in use"
    else:
        sentence = (
            f"Of {_count(planned, 'name')} in the plan of {code}, {file_name} has {agrees} on the plan's pin, "
            f"{moved} on another, and {missing} not at all; {_count(unknown, 'name')} of its own "
            f"{'is' if unknown == 1 else 'are'} not in the plan"
        )
    if moved and header.pins:
        verdict = "stop"
        remedies.append(
            f"Put the plan's pin into the program: {_listed(_moved_words(difference))}; or lock the terminals "
            "where the program has them."
        )
    if missing and header.pins and planned:
        verdict = "stop" if moved else "caution"
        remedies.append(f"Add {_listed([pin.identifier for pin in difference.missing])}, or take the header.")
    return Finding(
        verdict=verdict,
        about=about_board(plan, result.board),
        sentence=f"{sentence}.",
        remedies=tuple(remedies),
        source_mark=None,
        source="the plan's pins and the file, name by name",
        mend_at=f"/boards/{code}/pin-names",
        mend_word="See the plan's names",
    )


def _moved_words(difference: PinNameDifference) -> list[str]:
    return [
        f"{each.planned.identifier} {each.planned.number or each.planned.pin.pin_label} (now {each.told})"
        for each in difference.moved
    ]


def _listed(words: Sequence[str]) -> str:
    more = f" and {len(words) - NAMED_AT_MOST} more" if len(words) > NAMED_AT_MOST else ""
    return ", ".join(words[:NAMED_AT_MOST]) + more


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
