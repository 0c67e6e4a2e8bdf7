"""The source file of a name, as the compiler's own tools tell it."""

import re
from pathlib import Path

from app.readers.firmware import read_symbols
from tests.readers.avr_compiler import run


def test_a_name_that_a_file_keeps_to_itself_is_of_that_file_and_a_global_one_of_none(tmp_path: Path) -> None:
    sources = {
        "gauge.c": "static volatile int steps[7]; int gauge(void) { return steps[0]++; }",
        "lamp.c": "static volatile char steps[3]; int lamp(void) { return steps[1]++; }",
        "main.c": "int gauge(void); int lamp(void); int main(void) { return gauge() + lamp(); }",
    }
    for name, source in sources.items():
        (tmp_path / name).write_text(source)
    elf = tmp_path / "program.elf"
    run("avr-gcc", "-Os", "-mmcu=atmega328p", *(tmp_path / name for name in sources), "-o", elf)
    read = {(s.name, s.size_bytes): s.source_file for s in read_symbols(elf.read_bytes(), elf.name)}
    # avr-readelf -s prints a FILE entry before the local names of each file (ELF 1.2, figure 1-19, STT_FILE).
    printed: dict[tuple[str, int], str] = {}
    source_file = ""
    for line in run("avr-readelf", "-s", "-W", elf).splitlines():
        found = re.match(r"\s*\d+: [0-9a-f]+ +(\d+) (\w+) +(\w+) +\w+ +\S+ (\S+)", line)
        if found is None:
            continue
        size, kind, binding, name = found.groups()
        if kind == "FILE":
            source_file = name
        elif kind in ("OBJECT", "FUNC", "NOTYPE") and int(size):
            printed[(name, int(size))] = source_file if binding == "LOCAL" else ""
    assert read == printed
    assert read[("steps", 14)] == "gauge.c"
    assert read[("steps", 3)] == "lamp.c"
    assert read[("main", next(size for name, size in read if name == "main"))] == ""
