"""Memory and program of a board: the estimate, what is measured, and the claim made only while running."""

from datetime import UTC, datetime

from sqlmodel import Session, select

from app.planning.board_edit import add_board
from app.planning.board_memory import BoardMemory, board_memory
from app.planning.bring_in import keep_list, preview_list
from app.planning.plan import read_plan
from app.tables import BoardModule, Component, FirmwareBuild


def memory_of(
    session: Session, *rows: str, build: FirmwareBuild | None = None, module: str = "T8S"
) -> BoardMemory:
    """The memory of a new board of this module with the functions listed (name, kind, wiring)."""
    board = add_board(session, "B1", module)
    lines = ["panel\tboard\tname\tkind\twiring", *(f"P01\tB1\t{row}" for row in rows)]
    keep_list(session, preview_list(session, "\n".join(lines)))
    if build is not None:
        build.board_id = board.id or 0
        session.add(build)
        session.flush()
    plan = read_plan(session)
    return board_memory(plan, plan.boards[board.id or 0])


def measured(
    memory_bytes: int | None, *, claims: bool | None = None, program_bytes: int = 4000
) -> FirmwareBuild:
    """A build that was measured."""
    return FirmwareBuild(
        board_id=0,
        file_name="panel.elf",
        fingerprint="0" * 64,
        file_format="ELF",
        program_bytes=program_bytes,
        memory_bytes=memory_bytes,
        claims_at_run_time=claims,
        uploaded_at=datetime(2026, 11, 25, tzinfo=UTC),
    )


def test_a_library_counts_once_however_many_parts_use_it(empty_session: Session) -> None:
    memory = memory_of(empty_session, "A\tdisplay\to32", "B\tdisplay\to32")
    # Scenario section 10: display 100, bus 200, base 300 bytes, once a board; two buffers of 512.
    assert memory.estimate.static_bytes == 2 * 512 + 100 + 200 + 300
    assert memory.buffer_bytes == 1024


def test_over_three_quarters_is_a_caution_with_smaller_buffers_as_the_remedy(empty_session: Session) -> None:
    # 1,024 + 100 + 200 + 300 = 1,624 of 2,048 bytes: 79 %.
    finding = memory_of(empty_session, "A\tdisplay\to64").findings[0]
    assert finding.verdict == "caution"
    assert "1,624 of 2,048 bytes (79 %)" in finding.sentence
    assert any("page buffer" in remedy and "728 of 2,048" in remedy for remedy in finding.remedies)


def test_a_function_without_a_component_cannot_tell(empty_session: Session) -> None:
    finding = memory_of(empty_session, "A\tlight\tled", "B\tdisplay\tsomething").findings[0]
    assert finding.verdict == "cannot tell"
    assert "components of one function" in finding.sentence


def test_a_buffer_too_large_for_the_static_memory_is_taken_as_claimed_while_running(
    empty_session: Session,
) -> None:
    memory = memory_of(empty_session, "A\tdisplay\to64", build=measured(400))
    assert memory.measured is not None
    assert (memory.measured.run_time_bytes, memory.measured.total_bytes) == (1024, 1424)


def test_a_buffer_inside_the_static_memory_is_not_counted_twice(empty_session: Session) -> None:
    memory = memory_of(empty_session, "A\tdisplay\to64", build=measured(1500))
    assert memory.measured is not None
    assert memory.measured.run_time_bytes == 0


def test_the_builder_s_word_on_the_claim_counts_before_what_is_inferred(empty_session: Session) -> None:
    memory = memory_of(empty_session, "A\tdisplay\to64", build=measured(1500, claims=True))
    assert memory.measured is not None
    assert memory.measured.total_bytes == 2524
    assert memory.findings[0].verdict == "stop"


def test_a_hex_file_cannot_tell_memory(empty_session: Session) -> None:
    memory = memory_of(empty_session, "A\tlight\tled", build=measured(None))
    assert memory.measured is None
    assert "measured" not in memory.findings[0].sentence


def test_the_program_is_held_against_the_room_beside_the_boot_loader(empty_session: Session) -> None:
    # ATmega328P with a 512-byte boot loader: 32,256 bytes (values.md S6.8). 27,500 of them are 85.3 %.
    finding = memory_of(empty_session, "A\tlight\tled", build=measured(200, program_bytes=27_500)).findings[1]
    assert finding.verdict == "caution"
    assert "27,500 of 32,256 bytes (85 %)" in finding.sentence


def test_a_program_too_large_stops(empty_session: Session) -> None:
    finding = memory_of(empty_session, "A\tlight\tled", build=measured(200, program_bytes=32_257)).findings[1]
    assert finding.verdict == "stop"


def test_a_module_without_a_memory_size_cannot_tell(empty_session: Session) -> None:
    module = empty_session.exec(select(BoardModule).where(BoardModule.code == "T8S")).one()
    module.memory_bytes = None
    empty_session.add(module)
    finding = memory_of(empty_session, "A\tlight\tled").findings[0]
    assert finding.verdict == "cannot tell"
    assert "memory size is not entered" in finding.sentence


def test_a_buffer_of_unknown_size_is_named(empty_session: Session) -> None:
    component = empty_session.exec(select(Component).where(Component.code == "o32")).one()
    component.buffer_bytes = None
    empty_session.add(component)
    finding = memory_of(empty_session, "A\tdisplay\to32").findings[0]
    assert finding.verdict == "cannot tell"
    assert component.name in finding.sentence
