"""Firmware files: read, held against the board's chip, kept under their fingerprint, and dropped again."""

import hashlib
import os
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path, PureWindowsPath

from sqlmodel import Session, col, delete, func, select

from app.readers.firmware import FirmwareRefused, FirmwareSection, machine_suits, read_firmware
from app.tables import Board, BoardModule, FirmwareBuild
from app.tables import FirmwareSection as SectionRow

__all__ = ["FirmwareRefused", "drop_firmware", "keep_file", "plain_file_name", "store_firmware"]

SECTIONS_KEPT = 400
LONGEST_FILE_NAME = 200


def store_firmware(
    session: Session,
    files_dir: Path,
    board: Board,
    file_name: str,
    data: bytes,
    note: str = "",
    *,
    claims_at_run_time: bool | None = None,
    uploaded_at: datetime | None = None,
) -> FirmwareBuild:
    """Read a program file for a board and keep it as the board's newest build; the caller commits.

    `claims_at_run_time` says whether the program takes its display buffers only while running (None: not
    said). `uploaded_at` is now where not given.

    Raises:
        FirmwareRefused: the file cannot be read, or is for another chip than the board's.
    """
    name = plain_file_name(file_name)
    image = read_firmware(data, name)
    chip = session.exec(select(BoardModule.chip).where(BoardModule.id == board.module_id)).one()
    against = machine_suits(image, chip)
    if against:
        raise FirmwareRefused(name, "machine" if image.chip is None else "chip", against)
    fingerprint = hashlib.sha256(data).hexdigest()
    keep_file(files_dir, fingerprint, data)
    build = FirmwareBuild(
        board_id=board.id or 0,
        file_name=name,
        fingerprint=fingerprint,
        file_format=image.format,
        machine=image.machine or "",
        chip=image.chip or "",
        program_bytes=image.program_bytes,
        memory_bytes=image.memory_bytes,
        eeprom_bytes=image.eeprom_bytes,
        claims_at_run_time=claims_at_run_time,
        note=note,
        uploaded_at=uploaded_at or datetime.now(UTC),
    )
    session.add(build)
    session.flush()
    session.add_all(
        SectionRow(
            build_id=build.id or 0,
            name=section.name,
            address=section.address,
            size_bytes=section.size_bytes,
            memory_kind=section.where,
        )
        for section in _few(image.sections)
    )
    session.flush()
    return build


def drop_firmware(session: Session, build: FirmwareBuild) -> str | None:
    """Forget a build that was uploaded by mistake; the caller commits.

    Returns:
        The fingerprint of its file where no other build holds it, so that the caller may remove the file
        once the change is kept; else None.
    """
    session.exec(delete(SectionRow).where(col(SectionRow.build_id) == build.id))
    fingerprint = build.fingerprint
    session.delete(build)
    session.flush()
    others = session.exec(select(func.count()).where(FirmwareBuild.fingerprint == fingerprint)).one()
    return None if others else fingerprint


def plain_file_name(file_name: str) -> str:
    """The last part of a path as a browser sent it, cut to a length that can be shown."""
    return PureWindowsPath(file_name).name[:LONGEST_FILE_NAME] or "firmware"


def keep_file(files_dir: Path, fingerprint: str, data: bytes) -> None:
    """Write the file whole or not at all; one already kept is the same bytes."""
    kept = files_dir / fingerprint
    if kept.exists():
        return
    files_dir.mkdir(parents=True, exist_ok=True)
    partial = files_dir / f"{fingerprint}.part-{os.getpid()}"
    partial.write_bytes(data)
    partial.replace(kept)


def _few(sections: Sequence[FirmwareSection]) -> list[FirmwareSection]:
    """The sections as they are; of very many (a HEX with gaps) the largest, the rest as one for each store."""
    if len(sections) <= SECTIONS_KEPT:
        return list(sections)
    by_size = sorted(sections, key=lambda section: -section.size_bytes)
    few, rest = by_size[:SECTIONS_KEPT], by_size[SECTIONS_KEPT:]
    few.sort(key=lambda section: section.address)
    for where in dict.fromkeys(section.where for section in rest):
        sizes = [section.size_bytes for section in rest if section.where == where]
        few.append(FirmwareSection(f"{len(sizes):,} more stretches", 0, sum(sizes), where))
    return few
