"""Board modules of the builder's own: a chip of the data set, and where its pins come out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, delete, select

from app import units
from app.planning.edit import CodeTaken, code_is_free, save_row
from app.planning.module_pin_text import (
    PinDraft,
    PinLineRefused,
    default_module_pins,
    read_module_pins,
    write_module_pins,
)
from app.planning.pin_plan import solve_pins
from app.reference.microcontroller import (
    UnknownMicrocontroller,
    find_microcontrollers,
    read_microcontroller,
)
from app.reference.source import source
from app.tables import Board, BoardModule, ModuleLimit, ModulePin

__all__ = ["LINK_WORDS", "MOST_CHIPS", "PinDraft", "PinLineRefused"]

LINK_WORDS = {
    "port chip": "through a port chip: takes 2 pins",
    "own port": "by the chip's own port: takes no pin",
    "radio": "by radio: takes no pin",
}
MOST_CHIPS = 40
DATA_SET = "pin-data-set"


class UnknownChip(LookupError):
    """Neither the data set nor a module of the cockpit has this chip."""


class ModuleInUse(Exception):
    """Boards are of this module; the message names them."""


class BoardDoesNotFit(Exception):
    """A board of this module has a boot loader that the changed module cannot hold."""


@dataclass(frozen=True, slots=True)
class ChipFacts:
    """A chip: its memories in bytes (None: not listed), and the abilities of each pin, in order.

    `shared` names what else hangs on a pin ("crystal"); `corrections` say where the data set slips and why.
    """

    name: str
    program_bytes: int | None
    memory_bytes: int | None
    eeprom_bytes: int | None
    pins: Mapping[str, frozenset[str]]
    shared: Mapping[str, str]
    corrections: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class ModuleDraft:
    """A module of the builder's own as typed: its figures and its pins."""

    code: str
    name: str
    chip: str
    logic_v: float | None
    program_bytes: int | None
    memory_bytes: int | None
    eeprom_bytes: int | None
    boot_loader_bytes: int
    figures_mark: str
    link: str
    width_mm: float | None
    length_mm: float | None
    source: str
    note: str
    pins: tuple[PinDraft, ...]

    def columns(self) -> dict[str, Any]:
        """The module's own columns, without its pins."""
        return {name: getattr(self, name) for name in DRAFT_COLUMNS}


DRAFT_COLUMNS = (
    "code",
    "name",
    "chip",
    "logic_v",
    "program_bytes",
    "memory_bytes",
    "eeprom_bytes",
    "boot_loader_bytes",
    "figures_mark",
    "link",
    "width_mm",
    "length_mm",
    "source",
    "note",
)


def find_chips(session: Session, text: str) -> list[str]:
    """Chips whose name begins with or contains the text: those of modules at hand first, then the data set's."""
    wanted = "".join(text.casefold().split()).replace("-", "")
    if not wanted:
        return []
    own = session.exec(select(BoardModule.chip).distinct().order_by(BoardModule.chip)).all()
    at_hand = [chip for chip in own if wanted in chip.casefold().replace("-", "")]
    return list(dict.fromkeys([*at_hand, *find_microcontrollers(text[:60], MOST_CHIPS)]))[:MOST_CHIPS]


def chip_facts(session: Session, chip: str) -> ChipFacts:
    """What is known of a chip: from the data set, else from a module of the cockpit that has it.

    Raises:
        UnknownChip: neither has it.
    """
    try:
        read = read_microcontroller(chip[:80])
    except UnknownMicrocontroller as error:
        return _facts_of_module(session, chip, str(error))
    return ChipFacts(
        name=read.name,
        program_bytes=read.program_bytes,
        memory_bytes=read.memory_bytes,
        eeprom_bytes=read.eeprom_bytes,
        pins={pin.name: pin.abilities for pin in read.pins},
        shared={pin.name: pin.shared_with for pin in read.pins if pin.shared_with},
        corrections=tuple(
            f"{c.what}: the data set says {c.data_set_says}, here {c.we_say}; {c.reason}"
            for c in read.corrections
        ),
        source=source(DATA_SET).title,
    )


def _facts_of_module(session: Session, chip: str, why_not: str) -> ChipFacts:
    module = session.exec(
        select(BoardModule).where(BoardModule.chip == chip).order_by(col(BoardModule.is_starter).desc())
    ).first()
    if module is None:
        raise UnknownChip(f"There is {why_not}.")
    pins = session.exec(
        select(ModulePin).where(ModulePin.module_id == module.id, ModulePin.chip_pin != "")
    ).all()
    return ChipFacts(
        name=chip,
        program_bytes=module.program_bytes,
        memory_bytes=module.memory_bytes,
        eeprom_bytes=module.eeprom_bytes,
        pins={pin.chip_pin: frozenset(pin.abilities.split()) for pin in pins},
        shared={},
        corrections=(),
        source=module.source,
    )


def default_pin_texts(chip: ChipFacts) -> dict[str, str]:
    """The lines of a new module: every pin of the chip, in order, on two sides."""
    return default_module_pins(chip.pins, chip.shared)


def pin_texts(session: Session, module: BoardModule, chip: ChipFacts) -> dict[str, str]:
    """The lines of a module as it stands, to change or to copy."""
    pins = session.exec(
        select(ModulePin).where(ModulePin.module_id == module.id).order_by(col(ModulePin.id))
    ).all()
    return write_module_pins(pins, chip.pins)


def read_pins(texts: Mapping[str, str], chip: ChipFacts) -> tuple[PinDraft, ...]:
    """The pins as typed.

    Raises:
        PinLineRefused: with the side, the line and the reason.
    """
    return read_module_pins(texts, chip.pins)


def add_module(session: Session, draft: ModuleDraft, limits_of: BoardModule | None = None) -> BoardModule:
    """A new module of the builder's own, with the current limits of the one it was copied from.

    The caller commits.

    Raises:
        CodeTaken: another module has this id.
    """
    if not code_is_free(session, BoardModule, draft.code):
        raise CodeTaken(f"{draft.code} is another module's id.")
    module = BoardModule(**draft.columns())
    session.add(module)
    session.flush()
    _add_pins(session, module, draft.pins)
    if limits_of is not None:
        labels = {pin.label for pin in draft.pins}
        for limit in session.exec(select(ModuleLimit).where(ModuleLimit.module_id == limits_of.id)).all():
            here = [label for label in limit.pin_labels.split() if label in labels]
            if limit.pin_labels and not here:
                continue
            session.add(
                ModuleLimit(
                    module_id=module.id or 0,
                    scope=limit.scope,
                    direction=limit.direction,
                    limit_ma=limit.limit_ma,
                    pin_labels=" ".join(here),
                    basis=limit.basis,
                    source=limit.source,
                )
            )
    session.flush()
    return module


def change_module(
    session: Session, module: BoardModule, seen_version: int, draft: ModuleDraft
) -> tuple[str, ...]:
    """Write a draft over a module of the builder's own and solve its boards anew; the caller commits.

    Returns:
        A sentence for each lock that could not stand.

    Raises:
        CodeTaken: another module has this id.
        EditedMeanwhile: another tab saved it first.
        BoardDoesNotFit: a board's own boot loader leaves nothing of the program space.
    """
    if not code_is_free(session, BoardModule, draft.code, module.id):
        raise CodeTaken(f"{draft.code} is another module's id.")
    boards = session.exec(select(Board).where(Board.module_id == module.id)).all()
    for board in boards:
        taken = board.boot_loader_bytes
        if taken is not None and draft.program_bytes is not None and taken >= draft.program_bytes:
            raise BoardDoesNotFit(
                f"{board.code} has a boot loader of {units.show(taken, 'bytes')}, which leaves nothing of "
                f"{units.show(draft.program_bytes, 'bytes')}."
            )
    save_row(session, module, seen_version, draft.columns())
    session.exec(delete(ModulePin).where(col(ModulePin.module_id) == module.id))
    _add_pins(session, module, draft.pins)
    return solve_pins(session, [board.id or 0 for board in boards])


def boards_of_module(session: Session, module: BoardModule) -> Sequence[str]:
    """The ids of the boards that are of a module."""
    return session.exec(select(Board.code).where(Board.module_id == module.id).order_by(Board.code)).all()


def delete_module(session: Session, module: BoardModule) -> None:
    """Take away a module of the builder's own that no board is of; the caller commits.

    Raises:
        ModuleInUse: boards are of it.
    """
    boards = boards_of_module(session, module)
    if boards:
        raise ModuleInUse(f"{module.code} is the module of {', '.join(boards)}; change those boards first.")
    for table in (ModulePin, ModuleLimit):
        session.exec(delete(table).where(col(table.module_id) == module.id))
    session.delete(module)
    session.flush()


def module_limits(session: Session, module: BoardModule) -> Sequence[ModuleLimit]:
    """The current limits of a module."""
    return session.exec(
        select(ModuleLimit).where(ModuleLimit.module_id == module.id).order_by(col(ModuleLimit.id))
    ).all()


def _add_pins(session: Session, module: BoardModule, pins: Sequence[PinDraft]) -> None:
    session.add_all(
        ModulePin(
            module_id=module.id or 0,
            side=pin.side,
            row=pin.row,
            place=pin.place,
            label=pin.label,
            role=pin.role,
            chip_pin=pin.chip_pin,
            abilities=" ".join(sorted(pin.abilities)),
            reserved_for=pin.reserved_for,
            condition=pin.condition,
        )
        for pin in pins
    )
    session.flush()
