"""Which store of the chip a section of an ELF takes, by its addresses and flags, never by its name.

A section counts only if it is allocated. Its run address is where the program finds it; its load address,
from the segment it lies in, is where its content is kept while the power is off.

AVR, by the address spaces of the linker (avr-libc: the linker script's regions; avr-libc manual, "Memory
Sections"): below 0x800000 program; 0x800000 to 0x80FFFF data memory, and program too where the content is
loaded from below 0x800000; 0x810000 to 0x81FFFF EEPROM; fuses, lock bits and signatures above are none of
them. Read-only content from 0x808000 on with a load address in program memory is program seen through a
window (chips that map part of their program memory there).

ARM, RISC-V and Xtensa have one address space, so flags and load address decide:

* no content in the file (NOBITS) and writable: memory. What a linker script sets aside for heap and stack
  counts too where it is allocated;
* content that is writable, or that runs elsewhere than it is loaded: both;
* other content: program;
* nothing of the file is program where it is loaded into data memory: it is memory only. ARM: loaded into
  0x20000000 to 0x3FFFFFFF, the SRAM region of the architecture (ARMv6-M and ARMv7-M Architecture Reference
  Manuals, B3.1, the system address map).

Xtensa, and RISC-V chips that share its layout, load everything from flash at start, with equal run and load
addresses. The bus tells the stores apart (ESP32 Technical Reference Manual, 1.3.1, address mapping): content
in the data bus's view of flash (0x3F400000 to 0x3F7FFFFF; 0x3C000000 to 0x3DFFFFFF on later chips) or on the
instruction bus (0x40000000 to 0x4FFFFFFF) takes program only; places without content there mark off addresses
or take instruction memory, which is not data memory; real-time-clock memory (0x50000000 up) is not either.
"""

from app.readers.firmware_image import Where

AVR_MEMORY = 0x80_0000
AVR_MAPPED_PROGRAM = 0x80_8000
AVR_EEPROM = 0x81_0000
AVR_FUSES = 0x82_0000

_ARM_SRAM = range(0x2000_0000, 0x4000_0000)
_FLASH_DATA_VIEWS = (range(0x3F40_0000, 0x3F80_0000), range(0x3C00_0000, 0x3E00_0000))
_NOT_DATA_BUS = range(0x4000_0000, 0x6000_0000)


def _where_avr(run: int, load: int, *, content: bool, writable: bool) -> Where:
    if run < AVR_MEMORY:
        return "program" if content else "other"
    if run >= AVR_EEPROM:
        return "eeprom" if run < AVR_FUSES else "other"
    if not content or load >= AVR_MEMORY:
        return "memory"
    return "both" if writable or run < AVR_MAPPED_PROGRAM else "program"


def _where_flat(run: int, load: int, *, content: bool, writable: bool) -> Where:
    if not content:
        return "memory" if writable else "other"
    return "both" if writable or run != load else "program"


def where_taken(machine: str, run: int, load: int, *, content: bool, writable: bool) -> Where:
    """Return the store that an allocated section takes.

    Args:
        machine: "AVR", "ARM", "RISC-V" or "Xtensa".
        run: address at which the program finds it.
        load: address at which its content is kept; the run address where no segment says otherwise.
        content: whether it has content in the file.
        writable: whether the program may write to it.

    Returns:
        The store, by the rules above.

    >>> where_taken("AVR", 0x800100, 0x150, content=True, writable=True)
    'both'
    """
    if machine == "AVR":
        return _where_avr(run, load, content=content, writable=writable)
    if machine == "ARM":
        if content and load in _ARM_SRAM:
            return "memory"
        return _where_flat(run, load, content=content, writable=writable)
    if any(run in view for view in _FLASH_DATA_VIEWS) or run in _NOT_DATA_BUS:
        return "program" if content else "other"
    return _where_flat(run, load, content=content, writable=writable)
