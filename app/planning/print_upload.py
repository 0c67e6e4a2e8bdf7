"""G-code taken in for a revision: kept under its fingerprint, read, timed by simulated motion, weighed.

A file of a few megabytes is done while the builder waits; a longer one is read in a thread of its own that tells
how far it is and can be cancelled. One file at a time is read for each part. A job lives in memory only: what it
leaves behind is the row of its file, or nothing.
"""

import hashlib
import os
import tempfile
import threading
import time
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import BinaryIO, Literal, cast
from weakref import WeakKeyDictionary

from sqlalchemy import Engine
from sqlmodel import Session, select

from app import units
from app.planning.print_time import PrintTime, time_gcode, time_sentence
from app.settings import LARGEST_GCODE_BYTES
from app.tables import Printer, PrintFile, Revision

SMALL_BYTES = 5 * 1024 * 1024
COPIED_AT_ONCE = 1024 * 1024
INCOMING = "incoming-"
STALE_S = 24 * 3600

State = Literal["reading", "kept", "refused", "cancelled"]


class PrintFileRefused(ValueError):
    """A G-code file that was not taken: which file, where in it, and why."""

    def __init__(self, file_name: str, place: str, reason: str) -> None:
        super().__init__(f"{file_name}{', ' if place else ''}{place}: {reason}")
        self.file_name = file_name
        self.place = place
        self.reason = reason


class StillReading(Exception):
    """Another file is being read for this part; `file_name` is its name."""

    def __init__(self, file_name: str) -> None:
        super().__init__(f"{file_name} is still being read for this part; wait for it, or cancel it first.")
        self.file_name = file_name


@dataclass(frozen=True, slots=True)
class ReceivedFile:
    """A file that lies in the data folder, not yet read."""

    path: Path
    file_name: str
    fingerprint: str
    size_bytes: int

    @property
    def is_small(self) -> bool:
        """Whether it is read while the builder waits."""
        return self.size_bytes < SMALL_BYTES


@dataclass(slots=True)
class PrintReading:
    """One file under way: how far it is, and what became of it."""

    part_code: str
    revision_number: int
    revision_id: int
    printer_id: int
    file_name: str
    size_bytes: int
    state: State = "reading"
    stage: str = "reading the moves"
    done: float = 0.0
    refused: PrintFileRefused | None = None
    result: PrintTime | None = None
    print_file_id: int | None = None
    stop: threading.Event = field(default_factory=threading.Event)
    thread: threading.Thread | None = None

    def tell(self, stage: str, share: float) -> None:
        """Note how far it is, 0 to 1 of the whole."""
        self.stage, self.done = stage, share

    @property
    def sentence(self) -> str:
        """What became of it, in one sentence."""
        if self.result is not None:
            return time_sentence(self.file_name, self.result)
        if self.refused is not None:
            return str(self.refused)
        if self.state == "cancelled":
            return f"{self.file_name} was cancelled; nothing of it was kept."
        return f"{self.file_name}: {self.stage}."


class PrintReadings:
    """The files under way in one cockpit: the latest of each part."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._latest: dict[str, PrintReading] = {}

    def latest(self, part_code: str) -> PrintReading | None:
        """The part's latest reading, under way or done."""
        with self._lock:
            return self._latest.get(part_code)

    def begin(self, reading: PrintReading) -> None:
        """Make a reading its part's latest.

        Raises:
            StillReading: the part has another one under way.
        """
        with self._lock:
            before = self._latest.get(reading.part_code)
            if before is not None and before.state == "reading":
                raise StillReading(before.file_name)
            self._latest[reading.part_code] = reading

    def cancel(self, part_code: str) -> PrintReading | None:
        """Ask the part's reading to stop, and wait a moment for it."""
        reading = self.latest(part_code)
        if reading is not None:
            reading.stop.set()
            if reading.thread is not None:
                reading.thread.join(timeout=5)
        return reading


_READINGS: WeakKeyDictionary[Engine, PrintReadings] = WeakKeyDictionary()


def print_readings(engine: Engine) -> PrintReadings:
    """The files under way in the cockpit of this engine."""
    return _READINGS.setdefault(engine, PrintReadings())


def receive_gcode(files_dir: Path, stream: BinaryIO, file_name: str) -> ReceivedFile:
    """Copy what was sent into the data folder, piece by piece, taking its fingerprint on the way.

    Raises:
        PrintFileRefused: it is larger than a G-code file may be, or the disk does not take it.
    """
    files_dir.mkdir(parents=True, exist_ok=True)
    _clear_stale(files_dir)
    digest, size = hashlib.sha256(), 0
    handle, name = tempfile.mkstemp(prefix=INCOMING, dir=files_dir)
    path = Path(name)
    try:
        with os.fdopen(handle, "wb") as target:
            while piece := stream.read(COPIED_AT_ONCE):
                size += len(piece)
                if size > LARGEST_GCODE_BYTES:
                    break
                digest.update(piece)
                target.write(piece)
    except OSError as error:
        path.unlink(missing_ok=True)
        raise PrintFileRefused(
            file_name, "", f"it could not be kept in {files_dir} ({error.strerror})."
        ) from error
    if size > LARGEST_GCODE_BYTES:
        path.unlink(missing_ok=True)
        most = units.show(LARGEST_GCODE_BYTES // 2**20, "MB")
        raise PrintFileRefused(file_name, "", f"it is larger than {most}.")
    return ReceivedFile(path, file_name, digest.hexdigest(), size)


def upload_gcode(
    engine: Engine,
    files_dir: Path,
    *,
    part_code: str,
    revision: Revision,
    printer_id: int,
    received: ReceivedFile,
    uploaded_on: date,
) -> PrintReading:
    """Read a file that was received and keep what it came to; a long one goes on in a thread of its own.

    Returns:
        The reading: done where the file is small, under way where it is not. It commits by itself.

    Raises:
        StillReading: another file is being read for this part; what was received is thrown away.
        PrintFileRefused: a small file that cannot be read.
    """
    reading = PrintReading(
        part_code=part_code,
        revision_number=revision.number,
        revision_id=cast(int, revision.id),
        printer_id=printer_id,
        file_name=received.file_name,
        size_bytes=received.size_bytes,
    )
    return _begin(engine, files_dir, reading, received, uploaded_on)


def time_gcode_again(
    engine: Engine, files_dir: Path, *, part_code: str, file: PrintFile, revision_number: int, printer_id: int
) -> PrintReading:
    """Time a file that was kept with a printer's limits as they are now; as `upload_gcode` otherwise.

    Raises:
        StillReading: another file is being read for this part.
        PrintFileRefused: the file is no longer in the data folder, or cannot be read.
    """
    path = files_dir / file.fingerprint
    if not path.is_file():
        raise PrintFileRefused(
            file.file_name, "", "it is no longer in the data folder; upload it again to time it."
        )
    received = ReceivedFile(path, file.file_name, file.fingerprint, path.stat().st_size)
    reading = PrintReading(
        part_code=part_code,
        revision_number=revision_number,
        revision_id=file.revision_id,
        printer_id=printer_id,
        file_name=file.file_name,
        size_bytes=received.size_bytes,
        print_file_id=file.id,
    )
    return _begin(engine, files_dir, reading, received, file.uploaded_on)


def take_gcode(
    engine: Engine,
    files_dir: Path,
    revision_id: int,
    printer_id: int,
    stream: BinaryIO,
    file_name: str,
    uploaded_on: date,
) -> int:
    """Take a G-code file in and wait for it, whatever its size; the id of its row. It commits by itself.

    Raises:
        PrintFileRefused: the file cannot be read.
    """
    received = receive_gcode(files_dir, stream, file_name)
    reading = PrintReading("", 0, revision_id, printer_id, file_name, received.size_bytes)
    _run(engine, files_dir, reading, received, uploaded_on)
    if reading.print_file_id is None:
        raise reading.refused or PrintFileRefused(file_name, "", "it was cancelled.")
    return reading.print_file_id


def _begin(
    engine: Engine, files_dir: Path, reading: PrintReading, received: ReceivedFile, uploaded_on: date
) -> PrintReading:
    try:
        print_readings(engine).begin(reading)
    except StillReading:
        _throw_away(received, files_dir)
        raise

    def run() -> None:
        _run(engine, files_dir, reading, received, uploaded_on)

    if received.is_small:
        run()
        if reading.refused is not None:
            raise reading.refused
    else:
        reading.thread = threading.Thread(target=run, name=f"gcode {reading.part_code}", daemon=True)
        reading.thread.start()
    return reading


def _run(
    engine: Engine, files_dir: Path, reading: PrintReading, received: ReceivedFile, uploaded_on: date
) -> None:
    """Read, time and keep; whatever goes wrong ends as a state that the builder is told."""
    # On first use: numpy, which they stand on, is a tenth of the program's start.
    from app.calculations.print_motion import PrintMotionCancelled
    from app.readers.gcode import GcodeCancelled, GcodeRefused

    try:
        with Session(engine) as session:
            printer = session.get_one(Printer, reading.printer_id)
            session.expunge(printer)
        result = time_gcode(
            received.path,
            received.file_name,
            printer,
            progress=reading.tell,
            cancelled=reading.stop.is_set,
        )
        if received.path.name != received.fingerprint:
            os.replace(received.path, files_dir / received.fingerprint)
        with Session(engine) as session:
            reading.print_file_id = _keep(session, reading, received, result, uploaded_on)
            session.commit()
        reading.result, reading.state = result, "kept"
    except (GcodeCancelled, PrintMotionCancelled):
        _throw_away(received, files_dir)
        reading.state = "cancelled"
    except GcodeRefused as error:
        _refuse(reading, received, files_dir, f"line {error.line:,}", f"{error.reason}.")
    except ValueError as error:
        _refuse(reading, received, files_dir, "", f"its moves cannot be timed ({error}).")
    except MemoryError:
        _refuse(reading, received, files_dir, "", "it has more moves than this machine has memory for.")
    except Exception as error:
        _refuse(reading, received, files_dir, "", f"it could not be kept ({type(error).__name__}).")
        raise


def _refuse(reading: PrintReading, received: ReceivedFile, files_dir: Path, place: str, reason: str) -> None:
    _throw_away(received, files_dir)
    reading.refused = PrintFileRefused(reading.file_name, place, reason)
    reading.state = "refused"


def _throw_away(received: ReceivedFile, files_dir: Path) -> None:
    """Remove what was received, but never a file that is already kept under its fingerprint."""
    if received.path != files_dir / received.fingerprint:
        received.path.unlink(missing_ok=True)


def _keep(
    session: Session, reading: PrintReading, received: ReceivedFile, result: PrintTime, uploaded_on: date
) -> int:
    """Write the file's row; the same file sent again for the same revision is timed anew, not doubled."""
    row = None
    if reading.print_file_id is not None:
        row = session.get(PrintFile, reading.print_file_id)
    row = (
        row
        or session.exec(
            select(PrintFile).where(
                PrintFile.revision_id == reading.revision_id, PrintFile.fingerprint == received.fingerprint
            )
        ).first()
    )
    if row is None:
        row = PrintFile(
            revision_id=reading.revision_id,
            printer_id=reading.printer_id,
            file_name=received.file_name,
            fingerprint=received.fingerprint,
            seconds=0.0,
            filament_m=0.0,
            grams=0.0,
            moves=0,
            uploaded_on=uploaded_on,
        )
    row.printer_id = reading.printer_id
    row.seconds = result.seconds
    row.filament_m = result.filament_m
    row.grams = result.grams
    row.moves = result.moves
    row.unknown_words = result.unknown_words
    row.figures_mark = result.figures_mark
    session.add(row)
    session.flush()
    return cast(int, row.id)


def _clear_stale(files_dir: Path) -> None:
    """Remove what an upload left behind when the program was stopped in the middle of it."""
    for path in files_dir.glob(f"{INCOMING}*"):
        if path.stat().st_mtime < time.time() - STALE_S:
            path.unlink(missing_ok=True)
