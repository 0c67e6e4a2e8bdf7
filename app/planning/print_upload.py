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
from app.calculations.filament import filament_grams
from app.calculations.print_motion import MotionLimits, PrintMotionCancelled, print_motion
from app.readers.gcode import GcodeCancelled, GcodeRefused, read_gcode
from app.settings import LARGEST_GCODE_BYTES
from app.tables import Printer, PrintFile, Revision

SMALL_BYTES = 5 * 1024 * 1024
COPIED_AT_ONCE = 1024 * 1024
INCOMING = "incoming-"
STALE_S = 24 * 3600
UNKNOWN_WORDS_NAMED = 20

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


@dataclass(frozen=True, slots=True)
class PrintTime:
    """What a file came to with one printer's limits."""

    seconds: float
    filament_m: float
    grams: float
    moves: int
    unknown_words: str
    unknown_count: int
    figures_mark: str


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

    @property
    def sentence(self) -> str:
        """What became of it, in one sentence."""
        if self.result is not None:
            return reading_sentence(self.file_name, self.result)
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
                    most = units.show(LARGEST_GCODE_BYTES // 2**20, "MB")
                    raise PrintFileRefused(file_name, "", f"it is larger than {most}.")
                digest.update(piece)
                target.write(piece)
    except OSError as error:
        path.unlink(missing_ok=True)
        raise PrintFileRefused(
            file_name, "", f"it could not be kept in {files_dir} ({error.strerror})."
        ) from error
    except PrintFileRefused:
        path.unlink(missing_ok=True)
        raise
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
    try:
        with Session(engine) as session:
            printer = session.get_one(Printer, reading.printer_id)
            session.expunge(printer)
        result = _time_of(received, printer, reading)
        if reading.stop.is_set():
            raise GcodeCancelled(reading.file_name)
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


def _refuse(
    reading: PrintReading, received: ReceivedFile, files_dir: Path, place: str, reason: str
) -> None:
    _throw_away(received, files_dir)
    reading.refused = PrintFileRefused(reading.file_name, place, reason)
    reading.state = "refused"


def _throw_away(received: ReceivedFile, files_dir: Path) -> None:
    """Remove what was received, but never a file that is already kept under its fingerprint."""
    if received.path != files_dir / received.fingerprint:
        received.path.unlink(missing_ok=True)


def _time_of(received: ReceivedFile, printer: Printer, reading: PrintReading) -> PrintTime:
    """Read and time one file; the reading is told how far it is: the bytes first, then the motion."""
    size = max(received.size_bytes, 1)

    def bytes_read(taken: int) -> None:
        reading.done = 0.6 * min(taken / size, 1.0)

    with received.path.open("rb") as stream:
        moves = read_gcode(
            stream,
            received.file_name,
            max_bytes=LARGEST_GCODE_BYTES,
            progress=bytes_read,
            cancelled=reading.stop.is_set,
        )
    reading.stage = "timing the motion"
    count = max(moves.x_mm.size, 1)

    def moves_done(done: int) -> None:
        reading.done = 0.6 + 0.4 * min(done / (2 * count), 1.0)

    limits = printer_limits(printer).with_limits(moves.limits)
    motion = print_motion(moves, limits, progress=moves_done, cancelled=reading.stop.is_set)
    length_m = moves.filament_mm / 1000
    return PrintTime(
        seconds=motion.seconds,
        filament_m=length_m,
        grams=filament_grams(length_m, printer.filament_diameter_mm, printer.filament_density_g_cm3),
        moves=motion.moves,
        unknown_words=words_named(moves.unknown_words),
        unknown_count=sum(moves.unknown_words.values()),
        figures_mark=printer.figures_mark,
    )


def printer_limits(printer: Printer) -> MotionLimits:
    """The limits that a printer's motion keeps, for the calculation."""
    return MotionLimits(
        speed_x_mm_s=printer.speed_x_mm_s,
        speed_y_mm_s=printer.speed_y_mm_s,
        speed_z_mm_s=printer.speed_z_mm_s,
        speed_e_mm_s=printer.speed_e_mm_s,
        acceleration_mm_s2=printer.acceleration_mm_s2,
        acceleration_x_mm_s2=printer.acceleration_mm_s2,
        acceleration_y_mm_s2=printer.acceleration_mm_s2,
        acceleration_z_mm_s2=printer.acceleration_z_mm_s2,
        acceleration_e_mm_s2=printer.acceleration_e_mm_s2,
        junction_deviation_mm=printer.junction_deviation_mm,
        queue_moves=printer.queue_moves,
    )


def words_named(unknown: dict[str, int]) -> str:
    """The words that were not understood and how often each stands, most first: "M862 × 2, K × 1"."""
    ordered = sorted(unknown.items(), key=lambda word: (-word[1], word[0]))
    named = ", ".join(f"{word} × {times:,}" for word, times in ordered[:UNKNOWN_WORDS_NAMED])
    more = len(ordered) - UNKNOWN_WORDS_NAMED
    return f"{named} and {more:,} more" if more > 0 else named


def reading_sentence(file_name: str, result: PrintTime) -> str:
    """What a file came to, in one sentence."""
    sentence = (
        f"{file_name}: {units.show_duration(result.seconds)}, {units.show(result.filament_m, 'm')} of filament, "
        f"{units.show(result.grams, 'g')}, simulated from {result.moves:,} moves."
    )
    if result.unknown_count:
        words = "word was" if result.unknown_count == 1 else "words were"
        sentence += f" {result.unknown_count:,} {words} not understood: {result.unknown_words}."
    return sentence


def _keep(
    session: Session, reading: PrintReading, received: ReceivedFile, result: PrintTime, uploaded_on: date
) -> int:
    """Write the file's row; the same file sent again for the same revision is timed anew, not doubled."""
    row = None
    if reading.print_file_id is not None:
        row = session.get(PrintFile, reading.print_file_id)
    row = row or session.exec(
        select(PrintFile).where(
            PrintFile.revision_id == reading.revision_id, PrintFile.fingerprint == received.fingerprint
        )
    ).first()
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
