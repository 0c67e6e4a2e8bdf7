"""Firmware ELF with debug data: sizes and symbols of an 18 MB file, against reading the file."""

import shutil
import statistics
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from app.readers.firmware import read_firmware, read_symbols

_SYMBOLS = 30_000
_DEBUG_BYTES = 17_000_000


def built_file(folder: Path) -> Path:
    """An ELF for the ATmega2560 with 30,000 symbols and 17 MB of debug data, made by the AVR tools."""
    if shutil.which("avr-gcc") is None or shutil.which("avr-objcopy") is None:
        message = "avr-gcc or avr-objcopy is not installed; install gcc-avr, avr-libc and binutils-avr"
        raise RuntimeError(message)
    lines = [".text", ".global main", ".type main,@function", "main: ret", ".size main,2"]
    for number in range(_SYMBOLS):
        name = f"_ZN6module{number % 97}part{number}EPKhj"
        lines += [f".type {name},@function", f"{name}: ret", f".size {name},2"]
    source, elf, debug = folder / "big.s", folder / "big.elf", folder / "debug.bin"
    source.write_text("\n".join(lines) + "\n", encoding="utf-8")
    debug.write_bytes(bytes(range(256)) * (_DEBUG_BYTES // 256))
    subprocess.run(["avr-gcc", "-mmcu=atmega2560", str(source), "-o", str(elf)], check=True)
    subprocess.run(["avr-objcopy", "--add-section", f".debug_padding={debug}", str(elf)], check=True)
    return elf


def _median_s(work: Callable[[], object], times: int) -> float:
    took = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        took.append(time.perf_counter() - begin)
    return statistics.median(took)


def measure() -> list[tuple[str, str, float, float | None]]:
    """Rows of (what, unit and target in words, measured, target or None)."""
    with tempfile.TemporaryDirectory() as folder:
        elf = built_file(Path(folder))
        data = elf.read_bytes()
        reading_s = _median_s(elf.read_bytes, 9)
        read_firmware(data, elf.name)  # the library's import is paid once, before
        sizes_s = _median_s(lambda: read_firmware(data, elf.name), 9)
        symbols_s = _median_s(lambda: read_symbols(data, elf.name), 5)
        found = len(read_symbols(data, elf.name))
    if found < _SYMBOLS:
        message = f"read {found} of {_SYMBOLS} symbols"
        raise RuntimeError(message)
    size = f"{len(data) / 1e6:.0f} MB with debug data"
    share = f"x reading the same file ({reading_s * 1000:.1f} ms)"
    return [
        ("Firmware ELF, sizes", f"ms, {size}; target 50", sizes_s * 1000, 50.0),
        ("Firmware ELF, symbols", f"ms, {size}, {found:,} symbols; target 500", symbols_s * 1000, 500.0),
        ("Firmware ELF, sizes against reading", share, sizes_s / reading_s, None),
        ("Firmware ELF, symbols against reading", share, symbols_s / reading_s, None),
    ]


if __name__ == "__main__":
    for what, unit, measured, target in measure():
        print(
            f"{what}: {measured:.2f} {unit}{'' if target is None else ' ok' if measured <= target else ' MISSED'}"
        )
