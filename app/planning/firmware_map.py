"""The linker map of a build: read, held against the build's own file, kept beside it, and dropped with it."""

import hashlib
from pathlib import Path

from sqlmodel import Session, func, select

from app.planning.firmware_upload import keep_file, plain_file_name
from app.readers.firmware import FirmwareRefused, read_firmware
from app.readers.linker_map import MAP_MAX_BYTES, LinkerMapRefused, map_suits, read_linker_map
from app.tables import FirmwareBuild

__all__ = ["MAP_MAX_BYTES", "LinkerMapRefused", "drop_map", "keep_map"]


def keep_map(
    session: Session, files_dir: Path, build: FirmwareBuild, file_name: str, data: bytes
) -> str | None:
    """Keep a linker map for a build, in place of an earlier one; the caller commits.

    Returns:
        The fingerprint of the earlier map where no build holds it any more, so that the caller may remove its
        file once the change is kept; else None.

    Raises:
        LinkerMapRefused: the map cannot be read, is of another build, or the build's own file is not there
            to hold it against.
    """
    name = plain_file_name(file_name)
    linker_map = read_linker_map(data, name)
    try:
        image = read_firmware((files_dir / build.fingerprint).read_bytes(), build.file_name)
    except (OSError, FirmwareRefused) as error:
        reason = f"{build.file_name} is not there to hold it against; upload the build again"
        raise LinkerMapRefused(name, "file", reason) from error
    against = map_suits(linker_map, image)
    if against:
        raise LinkerMapRefused(name, f"held against {build.file_name}", against)
    fingerprint = hashlib.sha256(data).hexdigest()
    keep_file(files_dir, fingerprint, data)
    left_behind = drop_map(session, build)
    build.map_fingerprint = fingerprint
    session.add(build)
    session.flush()
    return left_behind if left_behind != fingerprint else None


def drop_map(session: Session, build: FirmwareBuild) -> str | None:
    """Forget a build's map; the caller commits.

    Returns:
        The fingerprint of its file where no build holds it any more; else None.
    """
    fingerprint = build.map_fingerprint
    if not fingerprint:
        return None
    build.map_fingerprint = ""
    session.add(build)
    session.flush()
    others = session.exec(select(func.count()).where(FirmwareBuild.map_fingerprint == fingerprint)).one()
    return None if others else fingerprint
