"""G-code taken in for a revision: kept, timed, weighed; refused, cancelled, timed again."""

import hashlib
import io
import os
import threading
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import Engine
from sqlmodel import Session, select

from app.database import migrate, open_engine
from app.planning import print_time, print_upload
from app.planning.print_time import words_named
from app.planning.print_upload import (
    PrintFileRefused,
    PrintReading,
    StillReading,
    print_readings,
    receive_gcode,
    take_gcode,
    time_gcode_again,
    upload_gcode,
)
from app.settings import Settings, program_dir
from app.tables import MadePart, Printer, PrintFile, Revision

DAY = date(2026, 11, 2)

# Check S16.8: two sides of a square, 20 mm each at 100 mm/s; by hand, with 1000 mm/s² and a square corner taken
# at 5 mm/s: 2 x 0.295125 s.
SQUARE = b"G90\nM83\nG1 X0 Y0 Z0 F6000\nG1 X20 Y0 F6000\nG1 X20 Y20 F6000\n"
SQUARE_S = 0.59025
# Check S16.6: the same corner as a junction deviation, 5² x (sqrt 2 - 1) / 1000.
SQUARE_DEVIATION_MM = 0.010355339
# Check S16.11: a metre of 1.75 mm filament of 1.24 g/cm³ weighs 2.98255 g.
ONE_METRE = b"M83\nG1 X500 E500 F600\nG1 X0 E500\n"
ONE_METRE_G = 2.98255


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[Engine]:
    settings = Settings(tmp_path)
    migrate(settings.database_path, program_dir() / "migrations")
    engine = open_engine(settings.database_path)
    with Session(engine) as session:
        session.add(
            Printer(name="Printer", acceleration_mm_s2=1000.0, junction_deviation_mm=SQUARE_DEVIATION_MM)
        )
        part = MadePart(code="MP01", name="Scoop slide carriage")
        session.add(part)
        session.flush()
        session.add(Revision(made_part_id=part.id or 0, number=1))
        session.commit()
    yield engine
    engine.dispose()


@pytest.fixture
def files_dir(tmp_path: Path) -> Path:
    return tmp_path / "files"


def the_file(engine: Engine) -> PrintFile:
    with Session(engine) as session:
        return session.exec(select(PrintFile)).one()


def taken(engine: Engine, files_dir: Path, text: bytes, name: str = "part.gcode") -> PrintFile:
    take_gcode(engine, files_dir, 1, 1, io.BytesIO(text), name, DAY)
    return the_file(engine)


def upload(engine: Engine, files_dir: Path, text: bytes, name: str = "part.gcode") -> PrintReading:
    received = receive_gcode(files_dir, io.BytesIO(text), name)
    with Session(engine) as session:
        revision = session.get_one(Revision, 1)
        return upload_gcode(
            engine,
            files_dir,
            part_code="MP01",
            revision=revision,
            printer_id=1,
            received=received,
            uploaded_on=DAY,
        )


def test_the_hours_are_those_of_the_motion_with_the_printers_limits(engine: Engine, files_dir: Path) -> None:
    assert taken(engine, files_dir, SQUARE).seconds == pytest.approx(SQUARE_S, abs=5e-6)


def test_limits_that_the_file_sets_stand_in_the_printers_place(engine: Engine, files_dir: Path) -> None:
    # Closed form (S16.3's d/v + v/a): rest to rest over 20 mm at 40 mm/s and 1000 mm/s² is 0.5 + 0.04 s.
    one_side = b"G90\nM203 X40\nG1 X20 F6000\n"
    assert taken(engine, files_dir, one_side).seconds == pytest.approx(0.54, abs=5e-6)


def test_the_grams_are_those_of_the_filament_with_the_printers_diameter_and_density(
    engine: Engine, files_dir: Path
) -> None:
    file = taken(engine, files_dir, ONE_METRE)
    assert file.filament_m == pytest.approx(1.0)
    assert file.grams == pytest.approx(ONE_METRE_G, abs=5e-6)
    assert file.moves == 2


def test_the_figures_carry_the_printers_source_mark(engine: Engine, files_dir: Path) -> None:
    assert taken(engine, files_dir, SQUARE).figures_mark == "assumed"
    with Session(engine) as session:
        session.get_one(Printer, 1).figures_mark = "measured"
        session.commit()
    assert taken(engine, files_dir, SQUARE).figures_mark == "measured"


def test_the_file_is_kept_under_its_fingerprint(engine: Engine, files_dir: Path) -> None:
    file = taken(engine, files_dir, SQUARE)
    assert file.fingerprint == hashlib.sha256(SQUARE).hexdigest()
    assert [path.name for path in files_dir.iterdir()] == [file.fingerprint]
    assert (files_dir / file.fingerprint).read_bytes() == SQUARE


def test_the_same_file_sent_again_is_not_doubled(engine: Engine, files_dir: Path) -> None:
    first = taken(engine, files_dir, SQUARE)
    assert taken(engine, files_dir, SQUARE).id == first.id


def test_unknown_words_are_counted_and_do_not_stop_it(engine: Engine, files_dir: Path) -> None:
    file = taken(engine, files_dir, SQUARE + b"M8765\nM8765\nSET_LIGHT ON\n")
    assert file.unknown_words == "M8765 × 2, SET_LIGHT × 1"


def test_many_unknown_words_are_named_in_part() -> None:
    named = words_named({f"M{1000 + n}": 1 for n in range(30)})
    assert named.endswith("M1019 × 1 and 10 more")


@pytest.mark.parametrize(
    ("text", "place", "reason"),
    [
        (b"\x7fELF\x00\x01" + bytes(500), "line 1", "binary"),
        (b"", "line 1", "empty"),
        (b"G1 X1 F60\nG1 X1..2\n", "line 2", "number"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_with_its_place_and_leaves_nothing(
    engine: Engine, files_dir: Path, text: bytes, place: str, reason: str
) -> None:
    with pytest.raises(PrintFileRefused, match=reason) as refused:
        upload(engine, files_dir, text, "odd.gcode")
    assert str(refused.value).startswith(f"odd.gcode, {place}: ")
    assert list(files_dir.iterdir()) == []
    with Session(engine) as session:
        assert session.exec(select(PrintFile)).all() == []


def test_a_file_over_the_limit_is_refused_while_it_comes(
    files_dir: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(print_upload, "LARGEST_GCODE_BYTES", 2 * 1024 * 1024)

    class Endless(io.RawIOBase):
        given = 0

        def read(self, size: int = -1) -> bytes:
            self.given += size
            return b";" * size

    stream = Endless()
    with pytest.raises(PrintFileRefused, match="larger than 2 MB"):
        receive_gcode(files_dir, stream, "endless.gcode")  # type: ignore[arg-type]  # it only reads
    assert stream.given <= 3 * 1024 * 1024
    assert list(files_dir.iterdir()) == []


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """Every file counts as long, and its reading begins only when the event is set."""
    begin = threading.Event()
    timed = print_time.time_gcode

    def when_told(*args: object, **kwargs: object) -> object:
        assert begin.wait(10)
        return timed(*args, **kwargs)  # type: ignore[arg-type]  # handed through as they came

    monkeypatch.setattr(print_upload, "SMALL_BYTES", 0)
    monkeypatch.setattr(print_upload, "time_gcode", when_told)
    return begin


def finished(reading: PrintReading) -> PrintReading:
    assert reading.thread is not None
    reading.thread.join(10)
    return reading


def test_a_long_file_goes_on_in_the_background(
    engine: Engine, files_dir: Path, waits: threading.Event
) -> None:
    reading = upload(engine, files_dir, SQUARE)
    assert (reading.state, reading.print_file_id) == ("reading", None)
    assert print_readings(engine).latest("MP01") is reading
    waits.set()
    assert finished(reading).state == "kept"
    assert the_file(engine).id == reading.print_file_id


def test_one_file_at_a_time_is_read_for_a_part(
    engine: Engine, files_dir: Path, waits: threading.Event
) -> None:
    reading = upload(engine, files_dir, SQUARE, "first.gcode")
    with pytest.raises(StillReading, match=r"first\.gcode is still being read"):
        upload(engine, files_dir, ONE_METRE, "second.gcode")
    waits.set()
    finished(reading)
    assert [path.name for path in files_dir.iterdir()] == [hashlib.sha256(SQUARE).hexdigest()]


def test_a_cancelled_file_leaves_nothing(engine: Engine, files_dir: Path, waits: threading.Event) -> None:
    reading = upload(engine, files_dir, SQUARE)
    reading.stop.set()
    waits.set()
    print_readings(engine).cancel("MP01")
    assert reading.state == "cancelled"
    assert list(files_dir.iterdir()) == []
    with Session(engine) as session:
        assert session.exec(select(PrintFile)).all() == []


def test_a_long_file_that_is_refused_says_so_when_asked(
    engine: Engine, files_dir: Path, waits: threading.Event
) -> None:
    reading = upload(engine, files_dir, b"\x7fELF" + bytes(99), "odd.gcode")
    waits.set()
    assert finished(reading).state == "refused"
    assert reading.sentence.startswith("odd.gcode, line 1: ")


def test_new_limits_change_a_file_only_when_it_is_timed_again(engine: Engine, files_dir: Path) -> None:
    file = taken(engine, files_dir, SQUARE)
    with Session(engine) as session:
        printer = session.get_one(Printer, 1)
        printer.speed_x_mm_s = printer.speed_y_mm_s = 10.0
        session.commit()
    assert the_file(engine).seconds == pytest.approx(SQUARE_S, abs=5e-6)
    time_gcode_again(engine, files_dir, part_code="MP01", file=file, revision_number=1, printer_id=1)
    # At 10 mm/s two sides take at least 4 s, and with 1000 mm/s² at most 0.02 s more.
    assert 4.0 < the_file(engine).seconds < 4.02
    assert the_file(engine).id == file.id


def test_a_file_that_is_gone_cannot_be_timed_again(engine: Engine, files_dir: Path) -> None:
    file = taken(engine, files_dir, SQUARE)
    (files_dir / file.fingerprint).unlink()
    with pytest.raises(PrintFileRefused, match="no longer in the data folder"):
        time_gcode_again(engine, files_dir, part_code="MP01", file=file, revision_number=1, printer_id=1)


def test_what_a_stopped_program_left_behind_is_cleared(engine: Engine, files_dir: Path) -> None:
    files_dir.mkdir()
    old, fresh = files_dir / "incoming-old", files_dir / "incoming-fresh"
    for path in (old, fresh):
        path.write_bytes(b"G1")
    long_ago = time.time() - 3 * 24 * 3600
    os.utime(old, (long_ago, long_ago))
    taken(engine, files_dir, SQUARE)
    assert (old.exists(), fresh.exists()) == (False, True)
