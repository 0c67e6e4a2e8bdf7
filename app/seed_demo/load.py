"""Loads the demo cockpit into an empty data folder."""

import io
import json
import re
import sqlite3
import tomllib
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Engine
from sqlmodel import Session, select

from app.database import migrate, open_engine, open_to_read
from app.planning.attempt_log import NewAttempt, ensure_revision, log_attempts
from app.planning.board_edit import add_board
from app.planning.bring_in import keep_list, preview_list
from app.planning.firmware_upload import store_firmware
from app.planning.panel_edit import add_panel, add_panel_load
from app.planning.print_upload import take_gcode
from app.planning.rail_edit import add_supply, feed_rail
from app.planning.scale import set_scale
from app.planning.starter_list import begin_cockpit
from app.seed_demo.attempt_spread import spread_attempts
from app.seed_demo.board_records import load_board_records
from app.seed_demo.sample_gcode import SamplePart, sample_gcode
from app.settings import Settings, program_dir
from app.tables import Board, Component, Function, MadePart, Panel, Printer, Rail, Revision

HERE = Path(__file__).parent

# Blocks of about the size and hours of the part, so that the demo has files to time: (part, revision, block).
SAMPLE_FILES = (
    ("MP36", 2, SamplePart(24, 20, 6, filled=0.45, layer_mm=0.2, speed_mm_s=30)),
    ("MP12", 4, SamplePart(58, 40, 10.5, filled=0.5, layer_mm=0.15, speed_mm_s=32)),
    ("MP10", 3, SamplePart(46, 5, 3.4, filled=0.9, layer_mm=0.1, speed_mm_s=17)),
    ("MP05", 4, SamplePart(19, 19, 8.5, filled=0.7, layer_mm=0.12, speed_mm_s=26)),
    ("MP35", 3, SamplePart(15, 15, 9, filled=0.7, layer_mm=0.12, speed_mm_s=24)),
)


FINGERPRINT = re.compile(r"[0-9a-f]{64}")


class NotDemo(Exception):
    """The folder holds a cockpit already."""


def is_demo_dir(folder: Path) -> bool:
    """Whether the folder holds the demo cockpit."""
    path = Settings(folder).database_path
    try:
        with closing(open_to_read(path)) as connection:
            row = connection.execute("SELECT is_demo FROM cockpit").fetchone()
    except sqlite3.DatabaseError:
        return False
    return bool(row and row[0])


def clear_demo(folder: Path) -> None:
    """Take the demo cockpit out of its folder: its own files only, whatever else lies there stays.

    Raises:
        NotDemo: the folder holds a cockpit that is not the demo.
    """
    settings = Settings(folder)
    if not is_demo_dir(folder):
        raise NotDemo(f"{folder} holds no demo cockpit")
    _remove_database(settings)
    for copy in folder.glob(f"{settings.database_path.stem}-before-*.sqlite3"):
        copy.unlink()
    for kept in settings.files_dir.glob("*"):
        if FINGERPRINT.fullmatch(kept.name):
            kept.unlink()


def _remove_database(settings: Settings) -> None:
    """The file goes first: a log left without it is nothing, a log beside a new file would be taken for its own."""
    for ending in ("", "-wal", "-shm"):
        settings.database_path.with_name(settings.database_path.name + ending).unlink(missing_ok=True)


def load_demo(folder: Path, today: date | None = None) -> None:
    """Load the demo into a folder that holds no cockpit yet.

    Raises:
        NotDemo: the folder holds a cockpit already.
    """
    settings = Settings(folder, is_demo=True)
    if settings.database_path.exists():
        raise NotDemo(f"{folder} holds a cockpit already")
    day = today or date.today()  # noqa: DTZ011 - the demo's days count from the builder's own today
    try:
        migrate(settings.database_path, program_dir() / "migrations")
        engine = open_engine(settings.database_path)
        try:
            _load(engine, settings, day)
        finally:
            engine.dispose()
    except BaseException:
        _remove_database(settings)  # a demo half loaded would look whole
        raise


def _load(engine: Engine, settings: Settings, day: date) -> None:
    scenario: dict[str, Any] = json.loads((HERE / "scenario.json").read_text(encoding="utf-8"))
    begin_cockpit(engine, name=scenario["name"], is_demo=True, today=day)
    with Session(engine) as session:
        _load_panels(session, scenario)
        _load_supplies(session, scenario)
        _load_boards(session, scenario)
        _load_functions(session, scenario)
        _load_strips(session, scenario)
        _load_scales(session, scenario)
        _load_made_parts(session, scenario, day)
        _load_firmware(session, settings)
        load_board_records(session, scenario)
        session.commit()
    _load_gcode(engine, settings, day)


def _load_panels(session: Session, scenario: dict[str, Any]) -> None:
    for row in scenario["panels"]:
        width, height = (float(side) for side in row["face_mm"].split("x"))
        add_panel(
            session,
            row["id"],
            row["name"],
            face_width_mm=width,
            face_height_mm=height,
            state=row["state"],
            note=row["note"],
        )


def _load_supplies(session: Session, scenario: dict[str, Any]) -> None:
    names = {row["id"]: row["name"] for row in scenario["components"]}
    rails = {rail.code: rail for rail in session.exec(select(Rail)).all()}
    for code, name in scenario["rails"].items():
        rails[code].name = name
    for row in scenario["supplies"]:
        supply = add_supply(session, row["id"], names[row["id"]], float(row["v"]), float(row["a"]))
        for code in row["rails"]:
            feed_rail(session, rails[code], supply)


def _load_boards(session: Session, scenario: dict[str, Any]) -> None:
    for row in scenario["boards"]:
        add_board(session, row["id"], row["type"])


def _load_functions(session: Session, scenario: dict[str, Any]) -> None:
    """The function list, brought in as a builder would paste it."""
    columns = ("id", "panel", "board", "name", "kind", "range", "signal", "wiring", "n", "note")
    lines = ["\t".join(columns)]
    for row in scenario["functions"]:
        kind = "drum" if row["id"] == "F007" else row["kind"]
        cells = {**row, "kind": kind}
        lines.append("\t".join("" if cells[c] is None else str(cells[c]) for c in columns))
    preview = preview_list(session, "\n".join(lines), "scenario.json")
    refused = [row for row in preview.rows if row.outcome == "refused"]
    if refused:
        raise ValueError(f"the demo's own list was refused at line {refused[0].line}: {refused[0].reason}")
    keep_list(session, preview)


def _load_strips(session: Session, scenario: dict[str, Any]) -> None:
    strip = session.exec(select(Component).where(Component.code == "strip")).one()
    panels = {panel.code: panel for panel in session.exec(select(Panel)).all()}
    for code in scenario["strips"]["panels"]:
        add_panel_load(session, panels[code], strip)


def _load_scales(session: Session, scenario: dict[str, Any]) -> None:
    functions = {f.code: f for f in session.exec(select(Function)).all()}
    for code, points in scenario["scales"].items():
        set_scale(session, functions[code], [(float(value), float(angle)) for value, angle in points])


def _load_made_parts(session: Session, scenario: dict[str, Any], day: date) -> None:
    panels = {panel.code: panel.id for panel in session.exec(select(Panel)).all()}
    parts = {}
    for row in scenario["made_parts"]:
        installed = re.fullmatch(r"r(\d+)", row["installed"])
        parts[row["id"]] = MadePart(
            code=row["id"],
            panel_id=panels.get(row["panel"]),
            name=row["name"],
            material=row["material"],
            hours=float(row["hours"]),
            grams=float(row["grams"]),
            installed_revision=int(installed[1]) if installed else None,
            approved_revision=row["approved"],
            note=row["note"] if row["panel"] in panels else f"{row['panel']}; {row['note']}".rstrip("; "),
        )
    session.add_all(parts.values())
    session.flush()
    stories = tomllib.loads((HERE / "revisions.toml").read_text(encoding="utf-8"))["revision"]
    for story in stories:
        ensure_revision(
            session,
            parts[story["part"]],
            story["number"],
            why=story.get("why"),
            what=story.get("what"),
            what_happened=story.get("what_happened"),
        )
    for code, attempts in spread_attempts(scenario["made_parts"]).items():
        log_attempts(
            session,
            parts[code],
            [
                NewAttempt(
                    revision_number=attempt.revision,
                    outcome=attempt.outcome,
                    made_on=day + timedelta(days=attempt.day),
                    cause=attempt.cause,
                    hours=parts[code].hours,
                    grams=parts[code].grams,
                    hours_mark="assumed",
                    grams_mark="assumed",
                )
                for attempt in attempts
            ],
        )


def _load_firmware(session: Session, settings: Settings) -> None:
    for board in session.exec(select(Board)).all():
        image = HERE / "firmware" / f"{board.code}.elf"
        if image.exists():
            store_firmware(session, settings.files_dir, board, image.name, image.read_bytes(), "demo build")


def _load_gcode(engine: Engine, settings: Settings, day: date) -> None:
    with Session(engine) as session:
        printer_id = session.exec(select(Printer.id)).first() or 0
        revisions = {
            (code, number): id_
            for code, number, id_ in session.exec(
                select(MadePart.code, Revision.number, Revision.id).join(Revision)
            ).all()
        }
    for code, number, block in SAMPLE_FILES:
        text = sample_gcode(block).encode()
        take_gcode(
            engine,
            settings.files_dir,
            revisions[code, number] or 0,
            printer_id,
            io.BytesIO(text),
            f"{code.lower()}-r{number}.gcode",
            day - timedelta(days=1),
        )
