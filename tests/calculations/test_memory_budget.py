import pytest

from app.calculations.memory_budget import MemoryClaim, memory_budget, program_budget

# Chip memories: values.md S6.1 (ATmega328P: 2,048 bytes memory, 32,768 program; avr-libc iom328p.h),
# S6.12 (RP2040: 270,336). Libraries, program and memory bytes: scenario.md section 10.
T8S, T8L, T32, T32W = 2048, 8192, 270_336, 327_680


# scenario.md section 2, column "RAM of buffers": bytes and per cent for each demo board that has buffers.
# Buffers: 1,024 (128 x 64), 512 (128 x 32), 3 a pixel; how many: section 4.
@pytest.mark.parametrize(
    ("claims", "memory_bytes", "expected_bytes", "per_cent"),
    [
        ([MemoryClaim("o32", 512)], T8L, 512, 6),  # BD01
        ([MemoryClaim("px", 3, 17)], T8S, 51, 2),  # BD03
        ([MemoryClaim("o64", 1024, 2)], T8S, 2048, 100),  # BD04
        ([MemoryClaim("o32", 512)], T8S, 512, 25),  # BD06
        ([], T32, 0, 0),  # BD07
        ([MemoryClaim("o32", 512, 3), MemoryClaim("px", 3, 6)], T32, 1554, 1),  # BD10
        ([MemoryClaim("o64", 1024)], T32W, 1024, 0),  # BD12
    ],
)
def test_the_buffers_of_the_demo_boards(
    claims: list[MemoryClaim], memory_bytes: int, expected_bytes: int, per_cent: int
) -> None:
    found = memory_budget(claims, memory_bytes)
    assert found.static_bytes == expected_bytes
    assert found.static_share is not None
    assert round(found.static_share * 100) == per_cent


def test_two_full_buffers_stop_a_small_board_before_any_other_use() -> None:
    # scenario.md section 9, fault 2: fails before any other use; here the libraries are not even known.
    found = memory_budget([MemoryClaim("o64", 1024, 2), MemoryClaim("display", None)], T8S)
    assert found.verdict == "stop"
    assert found.missing == ("display",)
    assert found.left_bytes == -300


def test_page_buffers_of_an_eighth_let_it_run() -> None:
    # scenario.md section 9, fault 2: page buffers 2 x 128 = 256 bytes. With base 300, bus 200 and display 100
    # (section 10) 856 bytes: 856 / 2048 = 42 %.
    claims = [MemoryClaim("page buffer", 128, 2)]
    libraries = [MemoryClaim(word, size, once_as=word) for word, size in [("base", 300), ("bus", 200)]]
    display = [MemoryClaim("display", 100, once_as="display")] * 2
    found = memory_budget([*claims, *libraries, *display], T8S)
    assert found.static_bytes == 856
    assert found.verdict == "fine"
    assert found.left_bytes == 2048 - 856 - 300


def test_a_library_counts_once_a_board_however_many_parts_use_it() -> None:
    claims = [MemoryClaim("servo", 60, once_as="servo"), MemoryClaim("servo", 60, once_as="servo")]
    assert memory_budget(claims, T8S).static_bytes == 60
    unlike = [MemoryClaim("servo", None, once_as="servo"), MemoryClaim("servo", 60, once_as="servo")]
    found = memory_budget(unlike, T8S)
    assert (found.static_bytes, found.missing) == (60, ())


# needs.md section 3, D1: warns above 75 %, fails above 90 %, static + stack reserve above 100 % fails too.
@pytest.mark.parametrize(
    ("static", "stack", "verdict"),
    [
        (1536, 300, "fine"),
        (1537, 300, "caution"),
        (1748, 300, "caution"),
        (1749, 300, "stop"),  # 1749 + 300 = 2049 of 2048
        (1843, 0, "caution"),
        (1844, 0, "stop"),  # 90 % of 2048 is 1843.2
    ],
)
def test_the_limits_lie_where_they_are_settled(static: int, stack: int, verdict: str) -> None:
    assert memory_budget([MemoryClaim("all", static)], T8S, stack_reserve_bytes=stack).verdict == verdict


def test_a_missing_size_or_memory_cannot_tell() -> None:
    assert (
        memory_budget([MemoryClaim("o32", 512), MemoryClaim("mystery", None)], T8S).verdict == "cannot tell"
    )
    found = memory_budget([MemoryClaim("o32", 512)], None)
    assert (found.verdict, found.static_share, found.left_bytes) == ("cannot tell", None, None)


def test_the_weakest_mark_is_of_the_figures_that_stood_in_it() -> None:
    claims = [MemoryClaim("build", 117, mark="measured"), MemoryClaim("buffer", 1024, mark="copied")]
    assert memory_budget(claims, T8S).mark == "copied"
    assert memory_budget(claims[:1], T8S).mark == "listed"
    assert memory_budget([MemoryClaim("mystery", None)], None).mark is None


def test_measured_static_memory_of_a_real_build() -> None:
    # values.md S7.1: avr-size -C of the fixture for ATmega328P prints data 117 bytes, 5.7 % full.
    found = memory_budget([MemoryClaim("build", 117, mark="measured")], T8S)
    assert found.static_share is not None
    assert round(found.static_share * 100, 1) == 5.7
    # S7.9: 117 of 2048 leaves 1931 bytes for stack and heap.
    assert found.left_bytes == 1931 - 300


# values.md S6.8: usable program memory with the boot loader taken off.
@pytest.mark.parametrize(
    ("program", "boot_loader", "usable"),
    [(32_768, 512, 32_256), (32_768, 2048, 30_720), (32_768, 4096, 28_672)],
)
def test_the_boot_loader_takes_its_part(program: int, boot_loader: int, usable: int) -> None:
    assert program_budget([], program, boot_loader_bytes=boot_loader).room_bytes == usable


def test_program_bytes_of_a_real_build() -> None:
    # values.md S7.1: avr-size -C prints program 346 bytes, 1.1 % full (of the whole 32,768).
    found = program_budget([MemoryClaim("build", 346, mark="measured")], 32_768)
    assert found.share is not None
    assert round(found.share * 100, 1) == 1.1


def test_the_libraries_of_the_demo_tank_board_fit_its_program_memory() -> None:
    # scenario.md section 10: base 3,000, display 6,000, bus 2,500 (BD04's servos 1,500 more): 13,000 of 32,256.
    sizes = [("base", 3000), ("display", 6000), ("bus", 2500), ("servo", 1500), ("display", 6000)]
    found = program_budget(
        [MemoryClaim(word, size, once_as=word) for word, size in sizes], 32_768, boot_loader_bytes=512
    )
    assert found.used_bytes == 13_000
    assert found.share == pytest.approx(13_000 / 32_256)
    assert found.verdict == "fine"


@pytest.mark.parametrize(
    ("used", "verdict"), [(8500, "fine"), (8501, "caution"), (10_000, "caution"), (10_001, "stop")]
)
def test_the_program_may_take_eighty_five_per_cent(used: int, verdict: str) -> None:
    # needs.md D2: at most 85 %.
    found = program_budget([MemoryClaim("all", used)], 10_512, boot_loader_bytes=512)
    assert found.verdict == verdict


def test_a_program_with_an_unknown_library_cannot_tell() -> None:
    found = program_budget([MemoryClaim("base", 3000), MemoryClaim("font", None)], 32_768)
    assert (found.verdict, found.missing) == ("cannot tell", ("font",))
    assert program_budget([MemoryClaim("base", 3000)], None).verdict == "cannot tell"


def test_figures_out_of_range_are_errors() -> None:
    with pytest.raises(ValueError, match="memory_bytes 0"):
        memory_budget([], 0)
    with pytest.raises(ValueError, match="stack_reserve_bytes -1"):
        memory_budget([], T8S, stack_reserve_bytes=-1)
    with pytest.raises(ValueError, match="none may be negative"):
        memory_budget([MemoryClaim("x", -1)], T8S)
    with pytest.raises(ValueError, match="boot_loader_bytes 512"):
        program_budget([], 512, boot_loader_bytes=512)
    with pytest.raises(ValueError, match="allowed_share 0"):
        program_budget([], 512, allowed_share=0)
