"""A build broken down and held against another, on programs compiled in the test: avr-nm and avr-size say what is in
them. A map is kept beside its own build only."""

import re
from pathlib import Path

import pytest
from sqlmodel import Session

from app.calculations.firmware_breakdown import NOT_NAMED
from app.planning.board_edit import add_board
from app.planning.firmware_breakdown import BuildSheet, NoBreakdown, break_down, build_sheet
from app.planning.firmware_breakdown_rows import NAMES_SHOWN, TALL, WIDE, BreakdownRow
from app.planning.firmware_map import LinkerMapRefused, drop_map, keep_map
from app.planning.firmware_upload import store_firmware
from app.tables import Board, FirmwareBuild
from tests.readers.avr_compiler import compiled, run, sizes_by_avr_size

CHIP = "atmega328p"
HEX = (Path(__file__).parents[1] / "readers" / "firmware" / "t_atmega328p.hex").read_bytes()
ANY_MAP = b"Linker script and memory map\n\n.text  0x0  0x4\n .text  0x0  0x4 x.o\nOUTPUT(a.elf)\n"
FIRST = """
#include <stdio.h>
char shown[40]; volatile int angle = 3;
static int __attribute__((noinline)) old_scale(int a) { return a * 37 + angle; }
int __attribute__((noinline)) step(int a) { return a + angle; }
int main(void) { angle = step(angle) + old_scale(angle); sprintf(shown, "%d", angle); return 0; }
"""
SECOND = """
#include <stdio.h>
char shown[64]; volatile int angle = 3;
int __attribute__((noinline)) fresh_scale(int a) { return a * 41 - angle; }
int __attribute__((noinline)) step(int a) { return a + angle + shown[a] * angle + shown[a + 1] * angle; }
int main(void) { angle = step(angle) + fresh_scale(angle); sprintf(shown, "%d", angle); return 0; }
"""
MANY = "volatile int angle;\n" + "".join(
    f"void __attribute__((noinline)) step_{n}(void) {{ {'angle += angle;' * (1 + n % 7)} }}\n"
    for n in range(NAMES_SHOWN + 60)
)
MANY += (
    "int main(void) {" + "".join(f"step_{n}();" for n in range(NAMES_SHOWN + 60)) + "for (;;) angle = 1; }\n"
)


@pytest.fixture
def board(empty_session: Session) -> Board:
    return add_board(empty_session, "BD01", "T8S")


@pytest.fixture
def files(tmp_path: Path) -> Path:
    return tmp_path / "files"


class Bench:
    """Compiles a program for the board and keeps it as its newest build."""

    def __init__(self, session: Session, board: Board, files: Path, folder: Path) -> None:
        self.session, self.board, self.files, self.folder = session, board, files, folder
        self.made = 0

    def build(self, source: str) -> tuple[FirmwareBuild, Path, bytes]:
        """The build, its ELF and its linker map."""
        self.made += 1
        folder = self.folder / f"made-{self.made}"
        folder.mkdir()
        linker_map = folder / "program.map"
        elf = compiled(source, CHIP, folder, "-ffunction-sections", f"-Wl,-Map={linker_map},--gc-sections")
        build = store_firmware(self.session, self.files, self.board, elf.name, elf.read_bytes())
        return build, elf, linker_map.read_bytes()

    def sheet(self, build: FirmwareBuild, store: str = "program", against: int | None = None) -> BuildSheet:
        sheet = build_sheet(
            self.session,
            self.files,
            self.board.id or 0,
            build.id or 0,
            store,  # type: ignore[arg-type]  # one of the three stores
            against,
        )
        assert sheet is not None
        return sheet


@pytest.fixture
def bench(empty_session: Session, board: Board, files: Path, tmp_path: Path) -> Bench:
    return Bench(empty_session, board, files, tmp_path)


def sizes_by_avr_nm(elf: Path) -> dict[str, int]:
    """Name and bytes of each symbol with a size, as ``avr-nm --size-sort`` prints them."""
    printed = run("avr-nm", "--size-sort", "-S", "-t", "d", elf)
    rows = re.findall(r"^\d+ (\d+) \w (\S+)$", printed, re.MULTILINE)
    return {name: int(size) for size, name in rows}


def leaves_of(row: BreakdownRow) -> list[BreakdownRow]:
    return [leaf for part in row.rows for leaf in leaves_of(part)] if row.rows else [row]


def test_each_name_has_the_bytes_that_avr_nm_says_and_the_whole_those_of_avr_size(bench: Bench) -> None:
    build, elf, _ = bench.build(FIRST)
    told = sizes_by_avr_nm(elf)
    program, data, _ = sizes_by_avr_size(elf, CHIP)
    for store, size in (("program", program), ("memory", data)):
        broken = bench.sheet(build, store).breakdown
        assert broken is not None
        assert broken.breakdown.size_bytes == size
        leaves = leaves_of(broken.root)
        assert sum(leaf.size_bytes for leaf in leaves) == size
        named = {leaf.name: leaf.size_bytes for leaf in leaves if leaf.name != NOT_NAMED}
        assert {name: told[name] for name in named} == named
    assert {"main", "step", "old_scale"} <= set(told)


def test_the_rectangles_are_to_scale_in_both_shapes(bench: Bench) -> None:
    build, _, _ = bench.build(FIRST)
    broken = bench.sheet(build).breakdown
    assert broken is not None
    for placed, (width, height) in ((broken.wide, WIDE), (broken.tall, TALL)):
        areas = {each.row.place: each.part.rectangle.area for each in placed}
        for each in placed:
            # An area is the share of the whole: what "to scale" means.
            expected = width * height * each.row.size_bytes / broken.breakdown.size_bytes
            assert areas[each.row.place] == pytest.approx(expected)
        assert len(areas) == len(placed)


def test_the_map_tells_libraries_and_files_of_the_same_bytes(bench: Bench, files: Path) -> None:
    build, _, linker_map = bench.build(FIRST)
    without = bench.sheet(build).breakdown
    assert keep_map(bench.session, files, build, "program.map", linker_map) is None
    assert (files / build.map_fingerprint).read_bytes() == linker_map
    broken = bench.sheet(build).breakdown
    assert broken is not None
    assert without is not None
    assert broken.breakdown.size_bytes == without.breakdown.size_bytes
    libraries = {row.name: row for row in broken.root.rows if row.kind == "library"}
    assert "libc.a" in libraries
    printf = [leaf for leaf in leaves_of(libraries["libc.a"]) if leaf.name == "vfprintf"]
    assert [leaf.within[0] for leaf in printf] == ["libc.a"]


def test_a_map_of_another_build_is_refused_with_both_figures_and_nothing_is_kept(
    bench: Bench, files: Path
) -> None:
    first, elf, _ = bench.build(FIRST)
    _, other, other_map = bench.build(SECOND)
    kept = sorted(path.name for path in files.iterdir())
    sizes = [run("avr-size", "-A", each) for each in (elf, other)]
    text, other_text = (int(re.search(r"^\.text +(\d+)", size, re.MULTILINE)[1]) for size in sizes)  # type: ignore[index]  # there, or the test fails
    said = rf"of another build: .*\.text is {text:,} bytes in the program and {other_text:,} in the map"
    with pytest.raises(LinkerMapRefused, match=said):
        keep_map(bench.session, files, first, "program.map", other_map)
    assert first.map_fingerprint == ""
    assert sorted(path.name for path in files.iterdir()) == kept


def test_a_map_goes_with_the_last_build_that_holds_it(bench: Bench, files: Path) -> None:
    first, _, linker_map = bench.build(FIRST)
    again, _, _ = bench.build(FIRST)
    for build in (first, again):
        keep_map(bench.session, files, build, "program.map", linker_map)
    fingerprint = first.map_fingerprint
    assert again.fingerprint == first.fingerprint
    # The same map with a word more takes the place of the first; the other build still holds that one.
    assert keep_map(bench.session, files, again, "program.map", linker_map + b"\nmore\n") is None
    assert again.map_fingerprint != fingerprint
    assert drop_map(bench.session, first) == fingerprint
    assert drop_map(bench.session, first) is None


def test_a_map_whose_file_is_gone_is_said_and_the_names_still_stand(bench: Bench, files: Path) -> None:
    build, _, linker_map = bench.build(FIRST)
    keep_map(bench.session, files, build, "program.map", linker_map)
    (files / build.map_fingerprint).unlink()
    sheet = bench.sheet(build)
    assert sheet.is_map_lost
    assert sheet.breakdown is not None


def test_the_difference_names_what_grew_is_new_and_gone_and_adds_up_to_what_avr_size_says(
    bench: Bench,
) -> None:
    _, elf, _ = bench.build(FIRST)
    newer, other, _ = bench.build(SECOND)
    before, after = (sizes_by_avr_size(each, CHIP) for each in (elf, other))
    told = bench.sheet(newer).difference
    assert told is not None
    assert told.difference.change_bytes == after[0] - before[0]
    words = {line.change.name: (line.word, line.change.change_bytes) for line in told.lines}
    nm_before, nm_after = sizes_by_avr_nm(elf), sizes_by_avr_nm(other)
    assert words["fresh_scale"] == ("new", nm_after["fresh_scale"])
    assert words["old_scale"] == ("gone", -nm_before["old_scale"])
    assert words["step"] == ("grew", nm_after["step"] - nm_before["step"])
    assert sum(change for _, change in words.values()) == told.difference.change_bytes
    memory = bench.sheet(newer, "memory").difference
    assert memory is not None
    assert [(line.word, line.change.name, line.change.change_bytes) for line in memory.lines] == [
        ("grew", "shown", 24)  # 64 letters after 40
    ]


def test_any_build_may_be_chosen_and_the_one_before_is_meant_where_none_is(bench: Bench) -> None:
    first, _, _ = bench.build(FIRST)
    second, _, _ = bench.build(SECOND)
    third, _, _ = bench.build(FIRST)
    assert bench.sheet(first).against is None
    assert bench.sheet(third).against == second
    sheet = bench.sheet(third, against=first.id)
    assert sheet.step.is_same_file
    assert sheet.difference is not None
    assert sheet.difference.lines == ()
    later = bench.sheet(first, against=third.id)
    assert later.against == third
    assert build_sheet(bench.session, bench.files, bench.board.id or 0, 999) is None
    assert build_sheet(bench.session, bench.files, bench.board.id or 0, first.id or 0, against_id=999) is None


def test_of_very_many_names_the_largest_are_shown_and_the_rest_as_a_sum(bench: Bench) -> None:
    build, elf, _ = bench.build(MANY)
    broken = bench.sheet(build).breakdown
    assert broken is not None
    leaves = leaves_of(broken.root)
    assert len(leaves) == NAMES_SHOWN + 1
    (rest,) = [leaf for leaf in leaves if leaf.kind == "rest"]
    number = re.fullmatch(r"(\d+) smaller names", rest.name)
    assert number is not None
    shown = [leaf for leaf in leaves if leaf is not rest]
    assert len(shown) + int(number[1]) == broken.names + 1  # and the part that is not named
    assert sum(leaf.size_bytes for leaf in leaves) == sizes_by_avr_size(elf, CHIP)[0]
    smallest = min(leaf.size_bytes for leaf in shown)
    assert smallest >= rest.size_bytes / int(number[1])


def test_an_intel_hex_and_a_lost_file_cannot_be_broken_down(bench: Bench, files: Path) -> None:
    hex_build = store_firmware(bench.session, files, bench.board, "t.hex", HEX)
    elf_build, _, _ = bench.build(FIRST)
    sheet = bench.sheet(hex_build)
    assert sheet.breakdown is None
    assert "an Intel HEX has no names" in sheet.why_not
    after = bench.sheet(elf_build)
    assert after.breakdown is not None
    assert after.difference is None
    assert "t.hex cannot be broken down: an Intel HEX has no names" in after.why_no_difference
    lost, _, _ = bench.build(SECOND)
    (files / lost.fingerprint).unlink()
    with pytest.raises(NoBreakdown, match="no longer in"):
        break_down(files, lost, "program")
    with pytest.raises(LinkerMapRefused, match="upload the build again"):
        keep_map(bench.session, files, lost, "a.map", ANY_MAP)
