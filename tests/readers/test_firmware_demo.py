"""The firmware images that come with the demo: real builds of the source beside them."""

import re
from importlib.resources import files
from pathlib import Path

import pytest

from app.readers.firmware import machine_suits, read_firmware, read_symbols
from tests.readers.avr_compiler import run, sizes_by_avr_size

FOLDER = Path(str(files("app"))) / "seed_demo" / "firmware"
# Chips of the demo's board types T8S and T8L (scenario, section 2: 2,048 and 8,192 bytes of memory).
CHIP_OF = {
    "BD01": "atmega2560",
    "BD03": "atmega328p",
    "BD04": "atmega328p",
    "BD05": "atmega2560",
    "BD06": "atmega328p",
    "BD08": "atmega2560",
    "BD11": "atmega328p",
}


def compiler_of(elf: Path) -> str:
    """The compiler's own mark in the file."""
    found = re.search(rb"GCC: \([^)]*\) ([0-9.]+)", elf.read_bytes())
    assert found is not None
    return found.group(1).decode()


def test_there_is_an_image_for_each_eight_bit_board_and_no_other() -> None:
    assert {path.stem for path in FOLDER.glob("*.elf")} == set(CHIP_OF)


@pytest.mark.parametrize("board", CHIP_OF)
def test_an_image_suits_its_board_and_reads_as_avr_size_reads_it(board: str) -> None:
    path = FOLDER / f"{board}.elf"
    image = read_firmware(path.read_bytes(), path.name)
    assert machine_suits(image, CHIP_OF[board]) is None
    sizes = (image.program_bytes, image.memory_bytes, image.eeprom_bytes)
    assert sizes == sizes_by_avr_size(path, CHIP_OF[board])


@pytest.mark.parametrize(
    ("board", "buffer_bytes"),
    [
        # Scenario, section 2: 512 for a display of 128 x 32 (BD01, BD06), 17 pixels of 3 bytes (BD03).
        ("BD01", 512),
        ("BD03", 51),
        ("BD06", 512),
    ],
)
def test_a_static_frame_buffer_is_among_the_symbols(board: str, buffer_bytes: int) -> None:
    path = FOLDER / f"{board}.elf"
    symbols = {symbol.name: symbol for symbol in read_symbols(path.read_bytes(), path.name)}
    assert (symbols["picture"].size_bytes, symbols["picture"].where) == (buffer_bytes, "memory")


def test_the_image_of_bd04_shows_neither_of_its_two_buffers() -> None:
    path = FOLDER / "BD04.elf"
    image = read_firmware(path.read_bytes(), path.name)
    # Scenario, section 2: its two displays fill 2,048 of 2,048 bytes; they claim them while it runs.
    assert image.memory_bytes is not None
    assert image.memory_bytes < 512
    assert "malloc" in {symbol.name for symbol in read_symbols(path.read_bytes(), path.name)}


def test_the_images_are_builds_of_the_source_beside_them(tmp_path: Path) -> None:
    run("sh", FOLDER / "build.sh", tmp_path)
    for board in CHIP_OF:
        shipped, built = FOLDER / f"{board}.elf", tmp_path / f"{board}.elf"
        ours = read_firmware(shipped.read_bytes(), shipped.name)
        theirs = read_firmware(built.read_bytes(), built.name)
        assert ours.memory_bytes is not None
        assert theirs.memory_bytes is not None
        if compiler_of(shipped) == compiler_of(built):
            assert ours.sections == theirs.sections
        else:  # another compiler makes another program of the same source, of much the same size
            assert theirs.program_bytes == pytest.approx(ours.program_bytes, rel=0.25)
            assert theirs.memory_bytes == pytest.approx(ours.memory_bytes, rel=0.1, abs=16)
