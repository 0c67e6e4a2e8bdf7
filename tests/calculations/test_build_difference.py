"""What grew between two builds, held against avr-nm and avr-size on two compiles of one program."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.calculations.build_difference import BuildPart, build_difference
from tests.calculations.test_firmware_breakdown import broken_down, sizes_by_avr_nm
from tests.readers.avr_compiler import compiled, sections_by_avr_size

BEFORE = """
volatile char picture[512]; volatile int steps[6]; volatile char old[20];
int lamp(int a) { static volatile int lit; return lit += a; }
int main(void) { picture[steps[0]] = old[lamp(2)]; return 0; }
"""
AFTER = """
volatile char picture[1024]; volatile int steps[4]; volatile char fresh[33];
int gauge(int a) { static volatile int lit; return lit *= a; }
int main(void) { picture[steps[0]] = fresh[gauge(2)]; return 0; }
"""
PARTS = st.lists(
    st.builds(
        BuildPart, st.sampled_from(["a", "b", "c.1", "c.2", "c.3"]), st.integers(0, 50), st.sampled_from("xy")
    )
)


def parts(elf: Path) -> list[BuildPart]:
    """Return the parts of code, data and memory, each section once."""
    leaves = [*broken_down(elf, "program").leaves]
    leaves += [leaf for leaf in broken_down(elf, "memory").leaves if leaf.section != ".data"]
    return [BuildPart(leaf.name, leaf.size_bytes, leaf.section) for leaf in leaves]


def test_two_builds_differ_by_what_avr_nm_and_avr_size_say(tmp_path: Path) -> None:
    (tmp_path / "before").mkdir()
    (tmp_path / "after").mkdir()
    before = compiled(BEFORE, "atmega328p", tmp_path / "before")
    after = compiled(AFTER, "atmega328p", tmp_path / "after")
    told = build_difference(parts(before), parts(after))
    was, now = (dict(sizes_by_avr_nm(elf, "tTdDbB").keys()) for elf in (before, after))
    for elf, size in ((before, told.before_bytes), (after, told.after_bytes)):
        printed = sections_by_avr_size(elf)
        assert size == sum(printed.get(name, (0, 0))[0] for name in (".text", ".data", ".bss"))
    for change in (*told.grew, *told.shrank, *told.new, *told.gone):
        if change.name == "not named":
            continue
        assert change.before_bytes == was.get(change.name_before)
        assert change.after_bytes == now.get(change.name)
    memory = {
        c.name: c.change_bytes for c in (*told.grew, *told.shrank, *told.new, *told.gone) if c.group == ".bss"
    }
    assert memory == {"picture": 512, "steps": -4, "fresh": 33, "old": -20}
    assert {c.name for c in told.new if c.group == ".text"} == {"gauge"}
    assert {c.name for c in told.gone if c.group == ".text"} == {"lamp"}
    assert told.grew[0].name == "picture"


def test_a_build_does_not_differ_from_itself(tmp_path: Path) -> None:
    elf = compiled(BEFORE, "atmega328p", tmp_path)
    told = build_difference(parts(elf), parts(elf))
    assert (told.grew, told.shrank, told.new, told.gone, told.change_bytes) == ((), (), (), (), 0)


def test_a_running_number_that_changed_is_not_one_gone_and_one_new() -> None:
    told = build_difference([BuildPart("lit.1482", 2, ".bss")], [BuildPart("lit.1490", 8, ".bss")])
    assert (told.new, told.gone) == ((), ())
    assert [(c.name, c.name_before, c.change_bytes) for c in told.grew] == [("lit.1490", "lit.1482", 6)]


def test_running_numbers_that_could_be_either_stay_apart() -> None:
    told = build_difference(
        [BuildPart("lit.1", 2), BuildPart("lit.2", 4)], [BuildPart("lit.3", 2), BuildPart("lit.4", 4)]
    )
    assert (len(told.gone), len(told.new)) == (2, 2)


def test_parts_alike_in_two_sections_are_two() -> None:
    told = build_difference([BuildPart("a", 2, ".text")], [BuildPart("a", 2, ".bss")])
    assert (told.gone_bytes, told.new_bytes, told.change_bytes) == (-2, 2, 0)


def test_a_negative_size_is_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        build_difference([BuildPart("a", -1)], [])


@given(PARTS, PARTS)
def test_the_four_sums_are_the_change_of_the_whole(before: list[BuildPart], after: list[BuildPart]) -> None:
    told = build_difference(before, after)
    assert told.before_bytes == sum(part.size_bytes for part in before)
    assert told.after_bytes == sum(part.size_bytes for part in after)
    four = (told.grew_bytes, told.shrank_bytes, told.new_bytes, told.gone_bytes)
    assert sum(four) == told.change_bytes
    assert four[0] >= 0 >= four[1]
    assert four[2] >= 0 >= four[3]
    for changes in (told.grew, told.shrank, told.new, told.gone):
        sizes = [abs(change.change_bytes) for change in changes]
        assert sizes == sorted(sizes, reverse=True)
        assert all(sizes)
