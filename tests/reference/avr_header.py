"""What an avr-libc device header says of a chip; a test without the headers fails, it is never skipped."""

import re
from dataclasses import dataclass
from pathlib import Path

import pytest

FOLDER = Path("/usr/lib/avr/include/avr")


@dataclass(frozen=True)
class AvrHeader:
    """Memories in bytes and the pins that have a direction bit."""

    program_bytes: int
    memory_bytes: int
    eeprom_bytes: int
    pins: frozenset[str]


def read_avr_header(name: str) -> AvrHeader:
    """Read one header, as installed by the package avr-libc."""
    path = FOLDER / name
    if not path.exists():
        pytest.fail(f"{path} is missing; install avr-libc", pytrace=False)
    text = path.read_text(encoding="latin-1")
    macros = dict(re.findall(r"^#define\s+(\w+)\s+(.+?)\s*(?:/\*.*)?$", text, re.MULTILINE))

    def value(words: str) -> int:
        total, sign = 0, 1
        for word in re.findall(r"\w+|[+-]", words):
            if word in "+-":
                sign = 1 if word == "+" else -1
            else:
                total += sign * (value(macros[word]) if word in macros else int(word, 0))
        return total

    # XRAM* of the ATmega32U4 is wrong in this header (values.md S6.6) and is not read.
    return AvrHeader(
        program_bytes=value("FLASHEND") + 1,
        memory_bytes=value("RAMEND") - value("RAMSTART") + 1,
        eeprom_bytes=value("E2END") + 1,
        pins=frozenset(f"P{port}{bit}" for port, bit in re.findall(r"#define\s+DD([A-L])([0-7])\b", text)),
    )
