"""The door for program files (firmware): ELF or Intel HEX, chosen by what the file holds, not by its name."""

import re

from app.readers.firmware_elf import read_elf, read_elf_symbols
from app.readers.firmware_hex import read_hex
from app.readers.firmware_image import FirmwareImage, FirmwareRefused, FirmwareSection, FirmwareSymbol, Where

__all__ = [
    "FIRMWARE_MAX_BYTES",
    "FirmwareImage",
    "FirmwareRefused",
    "FirmwareSection",
    "FirmwareSymbol",
    "Where",
    "machine_suits",
    "read_firmware",
    "read_symbols",
]

FIRMWARE_MAX_BYTES = 32 * 1024 * 1024
"""Largest program file taken: the upload limit that the form states."""

_ELF_MAGIC = b"\x7fELF"
_UF2_MAGIC = b"UF2\n"

_MACHINE_OF_CHIP: tuple[tuple[str, str], ...] = (
    # The first prefix that fits decides, so the longer names stand before the shorter ones.
    (r"at(91)?sam", "ARM"),
    (r"at(mega|tiny|xmega|90|a\d)|avr\d", "AVR"),
    (r"stm32|rp20\d\d|sam[cdelsv]|lpc|nrf5|mk\d|imxrt|gd32f|efm32", "ARM"),
    (r"esp32-?[chp]\d", "RISC-V"),
    (r"esp(32|8266)", "Xtensa"),
    (r"ch32v|gd32v|fe310", "RISC-V"),
)
"""Which machine a chip's name stands for: common knowledge of the trade, by the start of the name."""


def _is_hex(data: bytes) -> bool:
    return data[:64].lstrip().startswith(b":")


def _refuse_by_size(data: bytes, file_name: str) -> None:
    if not data:
        raise FirmwareRefused(file_name, "file", "is empty")
    if len(data) > FIRMWARE_MAX_BYTES:
        reason = f"is {len(data):,} bytes, more than the {FIRMWARE_MAX_BYTES:,} that are read"
        raise FirmwareRefused(file_name, "file", reason)


def _format_refusal(data: bytes, file_name: str) -> FirmwareRefused:
    if data.startswith(_UF2_MAGIC):
        return FirmwareRefused(file_name, "file", "is a UF2 file; give the ELF built beside it")
    return FirmwareRefused(
        file_name, "first bytes", "is of neither ELF nor Intel HEX; a raw binary cannot tell its sizes"
    )


def read_firmware(data: bytes, file_name: str) -> FirmwareImage:
    r"""Return what a program file takes of a board: program, memory and EEPROM bytes, and its sections.

    Args:
        data: the whole file, up to 32 MiB (Intel HEX: 12 MiB).
        file_name: its name, used only in the image and in refusals.

    Returns:
        The image. From Intel HEX the machine, chip and memory are None: that format cannot tell them.

    Raises:
        FirmwareRefused: the file is too large, of another kind, broken or hostile. Nothing else is raised.

    The format is chosen by the first bytes. What each format leaves undefined stands in
    firmware_elf.py and firmware_hex.py.

    >>> image = read_firmware(b":0B0010006164647265737320676170A7\n:00000001FF\n", "gap.hex")
    >>> image.format, image.program_bytes, image.memory_bytes
    ('Intel HEX', 11, None)
    """
    _refuse_by_size(data, file_name)
    if data.startswith(_ELF_MAGIC):
        return read_elf(data, file_name)
    if _is_hex(data):
        return read_hex(data, file_name)
    raise _format_refusal(data, file_name)


def read_symbols(data: bytes, file_name: str) -> tuple[FirmwareSymbol, ...]:
    """Return the named functions and variables of an ELF that take room, largest first.

    Args:
        data: the whole file, up to 32 MiB.
        file_name: its name, used only in refusals.

    Returns:
        The symbols; none when the ELF was stripped. They cover most of a program, not all of it:
        text in quotes, tables of vectors and some library code in assembler have no name with a size.

    Raises:
        FirmwareRefused: as ``read_firmware``, and for an Intel HEX, which has no names.
    """
    _refuse_by_size(data, file_name)
    if data.startswith(_ELF_MAGIC):
        return read_elf_symbols(data, file_name)
    if _is_hex(data):
        raise FirmwareRefused(file_name, "file", "an Intel HEX has no names; give the ELF built beside it")
    raise _format_refusal(data, file_name)


def machine_suits(image: FirmwareImage, chip: str) -> str | None:
    """Return why a program is for another chip than the board's, or None when nothing speaks against it.

    Args:
        image: what ``read_firmware`` returned.
        chip: the board's chip, as "atmega328p" or "rp2040"; a package suffix after a hyphen is ignored.

    Returns:
        One sentence with both names; None where they agree and where the file or the chip's name
        cannot tell (an Intel HEX names no machine).

    >>> image = FirmwareImage("a.elf", "ELF", "AVR", "atmega2560", 1, 1, 0, ())
    >>> machine_suits(image, "atmega328p")
    'built for atmega2560, the board has atmega328p'
    >>> machine_suits(image, "rp2040")
    'built for AVR, the board has rp2040 (ARM)'
    """
    name = chip.strip().lower()
    machine = next((family for prefix, family in _MACHINE_OF_CHIP if re.match(prefix, name)), None)
    if machine is not None and image.machine is not None and image.machine != machine:
        return f"built for {image.machine}, the board has {chip} ({machine})"
    board_chip = name.split("-")[0] if machine == "AVR" else name
    if image.chip is not None and machine is not None and image.chip != board_chip:
        return f"built for {image.chip}, the board has {chip}"
    return None
