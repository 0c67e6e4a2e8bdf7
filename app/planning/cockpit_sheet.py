"""The cockpit sheet: every panel in one row, and the sums over all."""

from collections import defaultdict
from dataclasses import dataclass

from sqlalchemy import case, select
from sqlmodel import Session, col, func

from app.planning.cockpit_result import CockpitResult
from app.planning.finding import VERDICT_ORDER, Verdict
from app.tables import Attempt, MadePart, Panel, Revision


@dataclass(frozen=True, slots=True)
class PanelLine:
    """One panel of the cockpit: its face, its functions and how many have a component, its boards, its prints."""

    code: str
    name: str
    state: str
    face_width_mm: float | None
    face_height_mm: float | None
    functions: int
    kinds: tuple[str, ...]
    chosen: int
    board_codes: tuple[str, ...]
    verdict: Verdict | None
    attempts: int
    good: int
    hours_spent: float
    hours_in_scrap: float


@dataclass(frozen=True, slots=True)
class CockpitSheet:
    """All panels, and the printing over all (parts of no panel counted too)."""

    panels: tuple[PanelLine, ...]
    functions: int
    attempts: int
    good: int
    hours_spent: float
    hours_in_scrap: float


# Built once: building a statement takes longer than asking it.
_IS_GOOD = col(Attempt.outcome) == "good"
_PRINTS = (
    select(
        col(MadePart.panel_id),
        func.count(),
        func.sum(case((_IS_GOOD, 1), else_=0)),
        func.coalesce(func.sum(col(Attempt.hours)), 0.0),
        func.coalesce(func.sum(case((_IS_GOOD, 0.0), else_=col(Attempt.hours))), 0.0),
    )
    .select_from(Attempt)
    .join(Revision, col(Revision.id) == Attempt.revision_id)
    .join(MadePart, col(MadePart.id) == Revision.made_part_id)
    .group_by(col(MadePart.panel_id))
)
_PANELS = select(
    col(Panel.id),
    col(Panel.code),
    col(Panel.name),
    col(Panel.state),
    col(Panel.face_width_mm),
    col(Panel.face_height_mm),
).order_by(col(Panel.code))


def cockpit_sheet(session: Session, result: CockpitResult) -> CockpitSheet:
    """The panels with their counts, in a fixed number of queries."""
    kinds, chosen = result.plan.kinds_by_panel, result.plan.chosen_by_panel
    prints = {row[0]: tuple(row[1:]) for row in session.execute(_PRINTS)}
    boards: dict[str, list[str]] = defaultdict(list)
    for board in result.boards.values():
        for panel_code in board.panel_codes:
            boards[panel_code].append(board.board.code)
    verdicts = worst_by_panel(result)
    panels = []
    for id_, code, name, state, width, height in session.execute(_PANELS):
        attempts, good, spent, scrap = prints.get(id_, (0, 0, 0.0, 0.0))
        panels.append(
            PanelLine(
                code=code,
                name=name,
                state=state,
                face_width_mm=width,
                face_height_mm=height,
                functions=len(kinds.get(id_, ())),
                kinds=kinds.get(id_, ()),
                chosen=chosen.get(id_, 0),
                board_codes=tuple(boards.get(code, ())),
                verdict=verdicts.get(code),
                attempts=attempts,
                good=good,
                hours_spent=spent,
                hours_in_scrap=scrap,
            )
        )
    return CockpitSheet(
        panels=tuple(panels),
        functions=len(result.plan.functions),
        attempts=sum(row[0] for row in prints.values()),
        good=sum(row[1] for row in prints.values()),
        hours_spent=sum(row[2] for row in prints.values()),
        hours_in_scrap=sum(row[3] for row in prints.values()),
    )


def worst_by_panel(result: CockpitResult) -> dict[str, Verdict]:
    """The worst verdict among the findings that name each panel."""
    worst: dict[str, Verdict] = {}
    for finding in result.findings:
        for about in finding.about:
            if about.kind == "panel":
                held = worst.get(about.id, "fine")
                worst[about.id] = min(held, finding.verdict, key=VERDICT_ORDER.index)
    return worst
