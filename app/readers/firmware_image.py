"""What a reader makes of a program file for a board, and the one way it refuses such a file."""

from dataclasses import dataclass
from typing import Literal

Where = Literal["program", "memory", "both", "eeprom", "other"]
"""Which store of the chip a section takes.

program: flash only (vectors, code, read-only data); memory: data memory only (.bss, .noinit);
both: content kept in flash and copied to data memory at start (.data); eeprom: the AVR's own store;
other: none of the three (fuse bytes, instruction memory without content, place markers).
"""


class FirmwareRefused(ValueError):
    """A program file that is not read, with the file, the place in it and the reason.

    Args:
        file_name: name of the file as the builder gave it.
        place: where in the file ("line 12", "section 7", "ELF header").
        reason: what is wrong there, in one plain clause.
    """

    def __init__(self, file_name: str, place: str, reason: str) -> None:
        super().__init__(f"{file_name}, {place}: {reason}")
        self.file_name = file_name
        self.place = place
        self.reason = reason


@dataclass(frozen=True, slots=True)
class FirmwareSection:
    """One stretch of a program: its name, run address, size and the store it takes."""

    name: str
    address: int
    size_bytes: int
    where: Where


@dataclass(frozen=True, slots=True)
class FirmwareSymbol:
    """One named function or variable of a program, with the store that its section takes.

    ``source_file`` is told only for a name that one source file keeps to itself (``static``); "" where not.
    """

    name: str
    address: int
    size_bytes: int
    where: Where
    source_file: str = ""


@dataclass(frozen=True, slots=True)
class FirmwareImage:
    """What a program file says that it takes of a board.

    ``memory_bytes`` is what is claimed before the program runs; stack and heap come on top, so it is
    the least that the program needs. ``None`` always means that the file cannot tell: never nothing.
    """

    file_name: str
    format: Literal["ELF", "Intel HEX"]
    machine: str | None
    chip: str | None
    program_bytes: int
    memory_bytes: int | None
    eeprom_bytes: int | None
    sections: tuple[FirmwareSection, ...]
