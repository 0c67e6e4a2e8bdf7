"""What takes the room in a build, by library, file and name, and what changed against another build.

The kept file is read once: a file lies under the fingerprint of its content, so what was made of it holds as
long as the program runs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from sqlmodel import Session, col, select

from app.calculations.build_difference import BuildDifference, BuildPart, PartChange, build_difference
from app.calculations.firmware_breakdown import (
    Breakdown,
    ObjectStretch,
    SectionStretch,
    Store,
    SymbolStretch,
    firmware_breakdown,
)
from app.planning.firmware_breakdown_rows import StoreBreakdown, store_breakdown
from app.planning.firmware_history import BuildStep, build_step
from app.readers.firmware import FirmwareRefused, read_firmware, read_symbols
from app.readers.linker_map import LinkerMapRefused, map_suits, read_linker_map
from app.tables import FirmwareBuild, FirmwareSection

STORES: tuple[Store, ...] = ("program", "memory", "eeprom")
CHANGES_SHOWN = 200
BREAKDOWNS_KEPT = 16


class NoBreakdown(Exception):
    """A build that cannot be broken down; the message says why and what would help."""


@dataclass(frozen=True, slots=True)
class DifferenceLine:
    """One name that changed: `word` is "grew", "shrank", "new" or "gone"."""

    word: str
    change: PartChange


@dataclass(frozen=True, slots=True)
class StoreDifference:
    """What changed in one store; the largest changes as lines, the others as their number and their sum."""

    difference: BuildDifference
    lines: tuple[DifferenceLine, ...]
    further: int
    further_bytes: int


@dataclass(frozen=True, slots=True)
class BuildSheet:
    """One build as its sheet shows it; `why_not` and `why_no_difference` say what could not be told."""

    build: FirmwareBuild
    others: tuple[FirmwareBuild, ...]
    against: FirmwareBuild | None
    store: Store
    stores: tuple[Store, ...]
    step: BuildStep
    breakdown: StoreBreakdown | None
    why_not: str
    is_map_lost: bool
    difference: StoreDifference | None
    why_no_difference: str


def build_sheet(
    session: Session,
    files_dir: Path,
    board_id: int,
    build_id: int,
    store: Store = "program",
    against_id: int | None = None,
) -> BuildSheet | None:
    """One store of a build broken down and held against another build of the board, by itself the one before.

    Returns:
        The sheet, or None where the board has no such build or no such build to hold it against.
    """
    builds = session.exec(
        select(FirmwareBuild).where(FirmwareBuild.board_id == board_id).order_by(col(FirmwareBuild.id).desc())
    ).all()
    by_id = {build.id: build for build in builds}
    build = by_id.get(build_id)
    if build is None or (against_id is not None and against_id not in by_id):
        return None
    earlier = next((each for each in builds if (each.id or 0) < build_id), None)
    against = earlier if against_id is None else by_id[against_id]
    broken, why_not = _told(files_dir, build, store)
    older, why_older = _told(files_dir, against, store) if against else (None, "")
    if against and not why_not and why_older:
        why_older = f"{against.file_name} cannot be broken down: {why_older}"
    sections = _sections(session, [build_id, *([against.id or 0] if against else [])])
    return BuildSheet(
        build=build,
        others=tuple(each for each in builds if each.id != build_id),
        against=against,
        store=store,
        stores=tuple(each for each in STORES if _bytes_of(build, each) or each == store),
        step=build_step(
            build, against, sections.get(build_id, ()), sections.get((against and against.id) or 0, ())
        ),
        breakdown=broken,
        why_not=why_not,
        is_map_lost=bool(build.map_fingerprint) and not _map_of(files_dir, build),
        difference=_difference(older.breakdown, broken.breakdown) if broken and older else None,
        why_no_difference=why_not or why_older,
    )


def break_down(files_dir: Path, build: FirmwareBuild, store: Store) -> StoreBreakdown:
    """One store of a build, broken down by its kept file and, where there is one, its linker map.

    Raises:
        NoBreakdown: the file has no names (an Intel HEX), or is no longer there.
    """
    try:
        return _broken_down(files_dir, build.fingerprint, _map_of(files_dir, build), store)
    except FileNotFoundError as error:
        raise NoBreakdown(
            f"the kept file is no longer in {files_dir}; upload the build again, or put the folder back"
        ) from error
    except (FirmwareRefused, LinkerMapRefused) as error:
        raise NoBreakdown(error.reason) from error


def _told(files_dir: Path, build: FirmwareBuild, store: Store) -> tuple[StoreBreakdown | None, str]:
    try:
        return break_down(files_dir, build, store), ""
    except NoBreakdown as error:
        return None, str(error)


def _map_of(files_dir: Path, build: FirmwareBuild) -> str:
    """The fingerprint of a build's map where its file is there."""
    there = build.map_fingerprint and (files_dir / build.map_fingerprint).exists()
    return build.map_fingerprint if there else ""


def _bytes_of(build: FirmwareBuild, store: Store) -> int | None:
    return {"program": build.program_bytes, "memory": build.memory_bytes, "eeprom": build.eeprom_bytes}[store]


def _sections(session: Session, build_ids: Sequence[int]) -> Mapping[int, list[FirmwareSection]]:
    found: dict[int, list[FirmwareSection]] = {}
    rows = session.exec(
        select(FirmwareSection)
        .where(col(FirmwareSection.build_id).in_(build_ids))
        .order_by(col(FirmwareSection.id))
    ).all()
    for row in rows:
        found.setdefault(row.build_id, []).append(row)
    return found


@lru_cache(maxsize=BREAKDOWNS_KEPT)
def _broken_down(files_dir: Path, fingerprint: str, map_fingerprint: str, store: Store) -> StoreBreakdown:
    data = (files_dir / fingerprint).read_bytes()
    image = read_firmware(data, fingerprint)
    symbols = read_symbols(data, fingerprint)
    objects: list[ObjectStretch] = []
    if map_fingerprint:
        linker_map = read_linker_map((files_dir / map_fingerprint).read_bytes(), map_fingerprint)
        if map_suits(linker_map, image) is None:
            objects = [
                ObjectStretch(row.section, row.address, row.size_bytes, row.library, row.file)
                for row in linker_map.rows
            ]
    breakdown = firmware_breakdown(
        [SectionStretch(each.name, each.address, each.size_bytes, each.where) for each in image.sections],
        [SymbolStretch(each.name, each.address, each.size_bytes, each.source_file) for each in symbols],
        objects,
        store=store,
        name=store,
    )
    return store_breakdown(breakdown)


def _difference(before: Breakdown, after: Breakdown) -> StoreDifference:
    difference = build_difference(_parts(before), _parts(after))
    lines = [
        DifferenceLine(word, change)
        for word in ("grew", "shrank", "new", "gone")
        for change in getattr(difference, word)
    ]
    lines.sort(key=lambda line: (-abs(line.change.change_bytes), line.change.group, line.change.name))
    further = lines[CHANGES_SHOWN:]
    return StoreDifference(
        difference=difference,
        lines=tuple(lines[:CHANGES_SHOWN]),
        further=len(further),
        further_bytes=sum(line.change.change_bytes for line in further),
    )


def _parts(breakdown: Breakdown) -> list[BuildPart]:
    return [BuildPart(leaf.name, leaf.size_bytes, leaf.section) for leaf in breakdown.leaves]
