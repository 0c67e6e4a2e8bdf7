"""The builds of a board, newest first, each with what changed since the one before."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, func, select

from app.tables import FirmwareBuild, FirmwareSection

STORE_WORDS = {
    "program": "program",
    "memory": "memory",
    "both": "program and memory",
    "eeprom": "EEPROM",
    "other": "neither",
}


@dataclass(frozen=True, slots=True)
class SectionChange:
    """One section: its bytes now and before; None where it is new or gone."""

    name: str
    store: str
    address: int
    now_bytes: int | None
    before_bytes: int | None

    @property
    def delta_bytes(self) -> int:
        """Bytes more, or less, than before."""
        return (self.now_bytes or 0) - (self.before_bytes or 0)


@dataclass(frozen=True, slots=True)
class BuildStep:
    """One build against the build before it (None for the first); None where either file cannot tell."""

    build: FirmwareBuild
    before: FirmwareBuild | None
    program_delta: int | None
    memory_delta: int | None
    eeprom_delta: int | None
    is_same_file: bool
    sections_compare: bool
    sections: tuple[SectionChange, ...]

    @property
    def changed(self) -> tuple[SectionChange, ...]:
        """The sections whose bytes differ."""
        return tuple(change for change in self.sections if change.delta_bytes)


@dataclass(frozen=True, slots=True)
class FirmwareHistory:
    """The newest builds of a board, newest first, and how many there are in all."""

    steps: tuple[BuildStep, ...]
    total: int


def firmware_history(session: Session, board_id: int, most: int = 20) -> FirmwareHistory:
    """The newest `most` builds of a board, each against the one before it."""
    builds = session.exec(
        select(FirmwareBuild)
        .where(FirmwareBuild.board_id == board_id)
        .order_by(col(FirmwareBuild.id).desc())
        .limit(most + 1)
    ).all()
    total = session.exec(select(func.count()).where(FirmwareBuild.board_id == board_id)).one()
    sections: dict[int, list[FirmwareSection]] = {}
    for section in session.exec(
        select(FirmwareSection)
        .where(col(FirmwareSection.build_id).in_([build.id for build in builds]))
        .order_by(col(FirmwareSection.id))
    ).all():
        sections.setdefault(section.build_id, []).append(section)
    pairs = zip(builds, [*builds[1:], None], strict=True) if builds else ()
    steps = tuple(
        build_step(build, before, sections.get(build.id or 0, ()), _sections_of(before, sections))
        for build, before in pairs
    )
    return FirmwareHistory(steps[:most], total)


def build_step(
    build: FirmwareBuild,
    before: FirmwareBuild | None,
    sections: Sequence[FirmwareSection],
    sections_before: Sequence[FirmwareSection],
) -> BuildStep:
    """What changed from one build to the next; an ELF and a HEX have no sections in common."""
    compare = before is not None and before.file_format == build.file_format
    old = {section.name: section for section in sections_before} if compare else {}
    new = {section.name: section for section in sections}
    changes = [
        SectionChange(
            name=name,
            store=STORE_WORDS.get(section.memory_kind, section.memory_kind),
            address=section.address,
            now_bytes=section.size_bytes if name in new else None,
            before_bytes=old[name].size_bytes if name in old else None,
        )
        for name, section in {**old, **new}.items()
    ]
    return BuildStep(
        build=build,
        before=before,
        program_delta=_delta(build.program_bytes, before.program_bytes if before else None),
        memory_delta=_delta(build.memory_bytes, before.memory_bytes if before else None),
        eeprom_delta=_delta(build.eeprom_bytes, before.eeprom_bytes if before else None),
        is_same_file=before is not None and before.fingerprint == build.fingerprint,
        sections_compare=compare,
        sections=tuple(changes),
    )


def _sections_of(
    build: FirmwareBuild | None, sections: dict[int, list[FirmwareSection]]
) -> Sequence[FirmwareSection]:
    return sections.get(build.id or 0, ()) if build is not None else ()


def _delta(now: int | None, before: int | None) -> int | None:
    return None if now is None or before is None else now - before
