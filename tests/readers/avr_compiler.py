"""The AVR compiler and its tools, as the tests start them; a test without them fails, it is never skipped."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest


def run(tool: str, *arguments: str | Path) -> str:
    """Return what an AVR tool prints; a tool that is missing or ends badly fails the test."""
    missing = [name for name in ("avr-gcc", tool) if shutil.which(name) is None]
    if missing:
        pytest.fail(
            f"{missing[0]} is not installed; install gcc-avr, avr-libc and binutils-avr", pytrace=False
        )
    done = subprocess.run([tool, *map(str, arguments)], capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.fail(f"{tool} ended with {done.returncode}: {done.stderr}", pytrace=False)
    return done.stdout


def compiled(source: str, chip: str, folder: Path, *options: str) -> Path:
    """Return the ELF that avr-gcc makes of a C source for a chip."""
    c_file = folder / "program.c"
    c_file.write_text(source, encoding="utf-8")
    elf = folder / f"program_{chip}.elf"
    run("avr-gcc", "-Os", "-Wall", "-Werror", f"-mmcu={chip}", *options, c_file, "-o", elf)
    return elf


def sizes_by_avr_size(elf: Path, chip: str) -> tuple[int, int, int]:
    """Return program, data and EEPROM bytes as ``avr-size -C`` prints them."""
    printed = run("avr-size", "-C", f"--mcu={chip}", elf)
    found = {name: int(count) for name, count in re.findall(r"^(\w+): +(\d+) bytes", printed, re.MULTILINE)}
    return found["Program"], found["Data"], found.get("EEPROM", 0)


def sections_by_avr_size(elf: Path) -> dict[str, tuple[int, int]]:
    """Return each section's size and address as ``avr-size -A`` prints them."""
    printed = run("avr-size", "-A", elf)
    rows = re.findall(r"^(\.\S+) +(\d+) +(\d+)$", printed, re.MULTILINE)
    return {name: (int(size), int(address)) for name, size, address in rows}
