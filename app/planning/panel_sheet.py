"""One panel's sheet: its functions with what moves or reads each, its made parts, its loads, its budgets."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import case, func, select
from sqlmodel import Session, col

from app.calculations.power_draw import RailLoad, rail_load
from app.calculations.source_mark import weakest
from app.planning.cockpit_result import BoardResult, CockpitResult
from app.planning.finding import VERDICT_ORDER, Finding, Verdict, findings_about
from app.planning.supply_load import rail_loads
from app.tables import Attempt, Component, Function, MadePart, Panel, PanelLoad, Rail, Revision


@dataclass(frozen=True, slots=True)
class FunctionLine:
    """One function of the panel: its item number on the face, its component, its pins and its worst verdict."""

    item: int
    code: str
    name: str
    kind: str
    range_text: str
    colour: str
    signal: str
    wiring_text: str
    component_code: str
    component_name: str
    board_code: str
    pins: tuple[str, ...]
    shares: tuple[str, ...]
    is_left_out: bool
    verdict: Verdict | None


@dataclass(frozen=True, slots=True)
class PartLine:
    """One made part of the panel with its record."""

    code: str
    name: str
    newest: int
    attempts: int
    good: int
    hours_spent: float
    hours_in_scrap: float


@dataclass(frozen=True, slots=True)
class LoadLine:
    """So many of a component on the panel that are no function."""

    id: int
    code: str
    name: str
    count: int


@dataclass(frozen=True, slots=True)
class PanelRail:
    """What the panel adds to one rail."""

    rail: Rail
    load: RailLoad


@dataclass(frozen=True, slots=True)
class PanelSheet:
    """All that the panel's sheet draws."""

    functions: tuple[FunctionLine, ...]
    boards: tuple[BoardResult, ...]
    parts: tuple[PartLine, ...]
    loads: tuple[LoadLine, ...]
    rails: tuple[PanelRail, ...]
    findings: tuple[Finding, ...]
    hours_spent: float
    hours_in_scrap: float
    weakest_mark: str | None


def panel_sheet(session: Session, panel: Panel, result: CockpitResult) -> PanelSheet:
    """Gather one panel's sheet, in a fixed number of queries."""
    findings = tuple(findings_about(result.findings, "panel", panel.code))
    boards = tuple(board for board in result.boards.values() if panel.code in board.panel_codes)
    parts = _parts(session, panel)
    rails = tuple(
        PanelRail(result.plan.rails[rail_id], rail_load(loads))
        for rail_id, loads in sorted(rail_loads(result.plan, panel.id).items())
    )
    return PanelSheet(
        functions=_functions(session, panel, result, findings),
        boards=boards,
        parts=parts,
        loads=_loads(session, panel),
        rails=rails,
        findings=findings,
        hours_spent=sum(part.hours_spent for part in parts),
        hours_in_scrap=sum(part.hours_in_scrap for part in parts),
        weakest_mark=weakest(mark for rail in rails if (mark := rail.load.peak.mark)),
    )


def _functions(
    session: Session, panel: Panel, result: CockpitResult, findings: tuple[Finding, ...]
) -> tuple[FunctionLine, ...]:
    plan = result.plan
    worst = worst_by_function(findings)
    pins: dict[int, list[str]] = {}
    for uses in plan.pin_uses.values():
        for use in uses:
            if use.function_id is not None:
                pins.setdefault(use.function_id, []).append(use.pin_label)
    rows = session.execute(
        select(
            col(Function.id),
            col(Function.code),
            col(Function.name),
            col(Function.kind),
            col(Function.range_text),
            col(Function.colour),
            col(Function.signal),
            col(Function.wiring_text),
        )
        .where(col(Function.panel_id) == panel.id)
        .order_by(col(Function.place), col(Function.id))
    ).all()
    lines = []
    for item, (id_, code, name, kind, range_text, colour, signal, wiring_text) in enumerate(rows, start=1):
        planned = plan.functions.get(id_)
        component = plan.component_of(planned) if planned else None
        board = plan.boards.get(planned.board_id) if planned and planned.board_id is not None else None
        shares = tuple(
            dict.fromkeys(
                terminal.shared_as or "matrix"
                for terminal in plan.terminals.get(component.id or 0, ())
                if terminal.shared_as or terminal.need == "contact"
            )
            if component
            else ()
        )
        lines.append(
            FunctionLine(
                item=item,
                code=code,
                name=name,
                kind=kind,
                range_text=range_text,
                colour=colour,
                signal=signal,
                wiring_text=wiring_text,
                component_code=component.code if component else "",
                component_name=component.name if component else "",
                board_code=board.code if board else "",
                pins=tuple(pins.get(id_, ())),
                shares=shares,
                is_left_out=board is not None and id_ in plan.left_out.get(board.id or 0, frozenset()),
                verdict=worst.get(code),
            )
        )
    return tuple(lines)


def worst_by_function(findings: tuple[Finding, ...]) -> Mapping[str, Verdict]:
    """The worst verdict among the findings that name each function."""
    worst: dict[str, Verdict] = {}
    for finding in findings:
        for about in finding.about:
            if about.kind == "function":
                held = worst.get(about.id, "fine")
                worst[about.id] = min(held, finding.verdict, key=VERDICT_ORDER.index)
    return worst


def _parts(session: Session, panel: Panel) -> tuple[PartLine, ...]:
    is_good = col(Attempt.outcome) == "good"
    rows = session.execute(
        select(
            col(MadePart.code),
            col(MadePart.name),
            func.coalesce(func.max(col(Revision.number)), 0),
            func.count(col(Attempt.id)),
            func.coalesce(func.sum(case((is_good, 1), else_=0)), 0),
            func.coalesce(func.sum(col(Attempt.hours)), 0.0),
            func.coalesce(func.sum(case((is_good, 0.0), else_=col(Attempt.hours))), 0.0),
        )
        .select_from(MadePart)
        .outerjoin(Revision, col(Revision.made_part_id) == MadePart.id)
        .outerjoin(Attempt, col(Attempt.revision_id) == Revision.id)
        .where(col(MadePart.panel_id) == panel.id)
        .group_by(col(MadePart.id))
        .order_by(col(MadePart.code))
    ).all()
    return tuple(PartLine(*row) for row in rows)


def _loads(session: Session, panel: Panel) -> tuple[LoadLine, ...]:
    rows = session.execute(
        select(col(PanelLoad.id), col(Component.code), col(Component.name), col(PanelLoad.count))
        .join(Component, col(Component.id) == PanelLoad.component_id)
        .where(col(PanelLoad.panel_id) == panel.id)
        .order_by(col(PanelLoad.id))
    ).all()
    return tuple(LoadLine(*row) for row in rows)
