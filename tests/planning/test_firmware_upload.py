"""Firmware kept for a board: measured, held against its chip, and what changed from build to build."""

import hashlib
from pathlib import Path

import pytest
from sqlmodel import Session, select

from app.planning.board_edit import add_board
from app.planning.firmware_history import firmware_history
from app.planning.firmware_upload import (
    SECTIONS_KEPT,
    FirmwareRefused,
    drop_firmware,
    plain_file_name,
    store_firmware,
)
from app.tables import Board, FirmwareBuild, FirmwareSection

FIXTURES = Path(__file__).parents[1] / "readers" / "firmware"
ELF = (FIXTURES / "t_atmega328p.elf").read_bytes()
HEX = (FIXTURES / "t_atmega328p.hex").read_bytes()


@pytest.fixture
def board(empty_session: Session) -> Board:
    return add_board(empty_session, "BD01", "T8S")


def test_a_build_keeps_what_was_measured_and_the_file_under_its_fingerprint(
    empty_session: Session, board: Board, tmp_path: Path
) -> None:
    build = store_firmware(empty_session, tmp_path / "files", board, "t.elf", ELF, "first")
    # avr-size -C --mcu=atmega328p (binutils-avr 2.26) on this file: program 346, data 117, EEPROM 16.
    assert (build.program_bytes, build.memory_bytes, build.eeprom_bytes) == (346, 117, 16)
    assert (build.chip, build.file_format, build.note) == ("atmega328p", "ELF", "first")
    assert build.fingerprint == hashlib.sha256(ELF).hexdigest()
    assert (tmp_path / "files" / build.fingerprint).read_bytes() == ELF
    assert [path.name for path in (tmp_path / "files").iterdir()] == [build.fingerprint]
    rows = empty_session.exec(select(FirmwareSection)).all()
    assert sum(r.size_bytes for r in rows if r.memory_kind in ("program", "both")) == 346


def test_an_intel_hex_cannot_tell_memory(empty_session: Session, board: Board, tmp_path: Path) -> None:
    build = store_firmware(empty_session, tmp_path, board, "t.hex", HEX)
    assert (build.program_bytes, build.memory_bytes) == (346, None)


def test_a_build_for_another_chip_is_refused_and_nothing_is_kept(
    empty_session: Session, board: Board, tmp_path: Path
) -> None:
    other = (FIXTURES / "t_atmega32u4.elf").read_bytes()
    with pytest.raises(FirmwareRefused, match=r"built for atmega32u4, the board has atmega328p"):
        store_firmware(empty_session, tmp_path / "files", board, "other.elf", other)
    assert empty_session.exec(select(FirmwareBuild)).all() == []
    assert not (tmp_path / "files").exists()


def test_a_build_for_another_machine_is_refused(empty_session: Session, tmp_path: Path) -> None:
    board = add_board(empty_session, "BD02", "T32")
    with pytest.raises(FirmwareRefused, match="AVR"):
        store_firmware(empty_session, tmp_path, board, "t.elf", ELF)


def test_the_history_says_what_changed(empty_session: Session, board: Board, tmp_path: Path) -> None:
    store_firmware(empty_session, tmp_path, board, "one.hex", HEX)
    store_firmware(empty_session, tmp_path, board, "two.elf", ELF)
    store_firmware(empty_session, tmp_path, board, "three.elf", ELF)
    newest, second, first = firmware_history(empty_session, board.id or 0).steps
    assert newest.is_same_file
    assert newest.changed == ()
    assert not second.is_same_file
    assert not second.sections_compare  # a HEX before it
    assert (second.program_delta, second.memory_delta) == (0, None)
    assert first.before is None


def test_a_section_that_grew_is_named_with_its_bytes(
    empty_session: Session, board: Board, tmp_path: Path
) -> None:
    # Two records of an Intel HEX, 11 and 12 bytes at address 16, with checksums by the format's own rule: all
    # bytes of a record add up to 0 modulo 256.
    short = b":0B0010006164647265737320676170A7\n:00000001FF\n"
    longer = b":0C001000616464726573732067617041" + b"65" + b"\n:00000001FF\n"
    checksum = -sum(bytes.fromhex(longer[1:33].decode())) % 256
    longer = longer[:33] + f"{checksum:02X}".encode() + b"\n:00000001FF\n"
    store_firmware(empty_session, tmp_path, board, "a.hex", short)
    store_firmware(empty_session, tmp_path, board, "b.hex", longer)
    step = firmware_history(empty_session, board.id or 0).steps[0]
    assert step.program_delta == 1
    assert [(c.before_bytes, c.now_bytes, c.delta_bytes) for c in step.changed] == [(11, 12, 1)]


def test_only_the_newest_builds_are_read_each_against_the_one_before(
    empty_session: Session, board: Board, tmp_path: Path
) -> None:
    for _ in range(4):
        store_firmware(empty_session, tmp_path, board, "t.elf", ELF)
    history = firmware_history(empty_session, board.id or 0, most=2)
    assert (len(history.steps), history.total) == (2, 4)
    assert all(step.before is not None for step in history.steps)


def test_a_build_is_forgotten_and_its_file_only_where_no_other_holds_it(
    empty_session: Session, board: Board, tmp_path: Path
) -> None:
    one = store_firmware(empty_session, tmp_path, board, "t.elf", ELF)
    two = store_firmware(empty_session, tmp_path, board, "t.elf", ELF)
    fingerprint = one.fingerprint
    assert drop_firmware(empty_session, two) is None
    assert drop_firmware(empty_session, one) == fingerprint
    assert empty_session.exec(select(FirmwareSection)).all() == []


def test_a_hex_of_very_many_stretches_keeps_the_largest_and_the_sum(
    empty_session: Session, board: Board, tmp_path: Path
) -> None:
    records = []
    for number in range(1000):
        record = bytes([1, *divmod(2 * number, 256), 0, 7])
        records.append(f":{(record + bytes([-sum(record) % 256])).hex()}".encode())
    data = b"\n".join([*records, b":00000001FF", b""])
    store_firmware(empty_session, tmp_path, board, "gaps.hex", data)
    rows = empty_session.exec(select(FirmwareSection)).all()
    assert len(rows) == SECTIONS_KEPT + 1
    assert sum(row.size_bytes for row in rows) == 1000


@pytest.mark.parametrize(
    ("sent", "kept"),
    [("a.elf", "a.elf"), ("../../x/a.elf", "a.elf"), (r"C:\work\a.elf", "a.elf"), ("", "firmware")],
)
def test_only_the_last_part_of_a_path_is_kept(sent: str, kept: str) -> None:
    assert plain_file_name(sent) == kept
