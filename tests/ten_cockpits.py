"""The demo's plan ten times over, under other ids, put in through the same doors a builder's data comes through."""

import json
import re
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from sqlmodel import Session, select

from app.database import open_engine
from app.planning.attempt_log import NewAttempt, log_attempts
from app.planning.board_edit import add_board
from app.planning.bring_in import keep_list, preview_list
from app.planning.panel_edit import add_panel, add_panel_load
from app.planning.rail_edit import add_rail, add_supply
from app.planning.scale import set_scale
from app.seed_demo import load_demo
from app.seed_demo.attempt_spread import spread_attempts
from app.settings import Settings, program_dir
from app.tables import Component, Function, MadePart, Panel

COPIES = 9
COLUMNS = ("id", "panel", "board", "name", "kind", "range", "signal", "wiring", "n", "note")
LOADED_ON = date(2026, 11, 25)


def load_ten_cockpits(folder: Path) -> Settings:
    """The demo and nine more like it in one cockpit: 160 panels, 1,680 functions, 120 boards, 1,800 attempts."""
    load_demo(folder, LOADED_ON)
    settings = Settings(folder, is_demo=True)
    scenario = json.loads((program_dir() / "seed_demo" / "scenario.json").read_text("utf-8"))
    engine = open_engine(settings.database_path)
    with Session(engine) as session:
        for copy in range(1, COPIES + 1):
            _add_what_holds(session, scenario, copy)
        _add_functions(session, scenario)
        for copy in range(1, COPIES + 1):
            _add_what_hangs_on(session, scenario, copy)
        session.commit()
    engine.dispose()
    return settings


def other_id(code: str, copy: int) -> str:
    """The id of the same thing in another copy: P07 is P307 in the third."""
    return re.sub(r"\d+$", lambda digits: f"{copy}{digits[0]}", code)


def _add_what_holds(session: Session, scenario: dict[str, Any], copy: int) -> None:
    for row in scenario["panels"]:
        width, height = (float(side) for side in row["face_mm"].split("x"))
        add_panel(session, other_id(row["id"], copy), row["name"], face_width_mm=width, face_height_mm=height)
    for row in scenario["boards"]:
        add_board(session, other_id(row["id"], copy), row["type"])
    for row in scenario["supplies"]:
        supply = add_supply(session, other_id(row["id"], copy), "Supply", float(row["v"]), float(row["a"]))
        add_rail(session, f"rail{copy}-{row['id']}", "Rail", float(row["v"]), supply)


def _add_functions(session: Session, scenario: dict[str, Any]) -> None:
    lines = ["\t".join(COLUMNS)]
    for copy in range(1, COPIES + 1):
        for row in scenario["functions"]:
            ids = {name: other_id(row[name], copy) for name in ("id", "panel", "board") if row[name]}
            cells = {**row, **ids}
            lines.append("\t".join("" if cells[name] is None else str(cells[name]) for name in COLUMNS))
    kept = keep_list(session, preview_list(session, "\n".join(lines)))
    assert (kept.new, kept.refused) == (COPIES * len(scenario["functions"]), 0)


def _add_what_hangs_on(session: Session, scenario: dict[str, Any], copy: int) -> None:
    panels = {panel.code: panel for panel in session.exec(select(Panel)).all()}
    functions = {function.code: function for function in session.exec(select(Function)).all()}
    strip = session.exec(select(Component).where(Component.code == "strip")).one()
    for code in scenario["strips"]["panels"]:
        add_panel_load(session, panels[other_id(code, copy)], strip)
    for code, points in scenario["scales"].items():
        set_scale(session, functions[other_id(code, copy)], [(float(x), float(y)) for x, y in points])
    spread = spread_attempts(scenario["made_parts"])
    for row in scenario["made_parts"]:
        panel = panels.get(other_id(row["panel"], copy))
        part = MadePart(
            code=other_id(row["id"], copy),
            panel_id=panel.id if panel else None,
            name=row["name"],
            material=row["material"],
            hours=float(row["hours"]),
            grams=float(row["grams"]),
        )
        session.add(part)
        session.flush()
        attempts = [
            NewAttempt(
                each.revision, each.outcome, LOADED_ON + timedelta(days=each.day), each.cause, part.hours
            )
            for each in spread[row["id"]]
        ]
        log_attempts(session, part, attempts)
