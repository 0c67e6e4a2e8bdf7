"""One function's sheet: what it is, its candidates, its scale, its board and pins."""

from collections.abc import Iterable
from dataclasses import dataclass

from sqlmodel import Session, col, select

from app.planning.board_pins import contacts_of, terminal_needs
from app.planning.cockpit_result import CockpitResult
from app.planning.finding import Finding, findings_about
from app.planning.scale import scale_of
from app.readers.function_list import split_wiring
from app.tables import Board, Candidate, Component, Function, Panel, PinUse, Rail, ScalePoint


@dataclass(frozen=True, slots=True)
class CandidateLine:
    """A component weighed for the function: how it stands, why, and what it would take."""

    component: Component
    state: str
    reason: str
    own_pins: int | None
    shared: tuple[str, ...]
    rail: Rail | None


@dataclass(frozen=True, slots=True)
class FunctionSheet:
    """All that the function's sheet draws; choices are (id, text) for the selects."""

    function: Function
    panel: Panel
    board: Board | None
    candidates: tuple[CandidateLine, ...]
    scale: tuple[ScalePoint, ...]
    pins: tuple[PinUse, ...]
    is_left_out: bool
    findings: tuple[Finding, ...]
    suiting: tuple[tuple[str, str], ...]
    others: tuple[tuple[str, str], ...]
    boards: tuple[tuple[str, str], ...]
    wiring_remark: str

    @property
    def held(self) -> list[tuple[str, str]]:
        """The candidates as choices."""
        return [(c.component.code, f"{c.component.code}: {c.component.name}") for c in self.candidates]


def function_sheet(session: Session, function: Function, result: CockpitResult) -> FunctionSheet:
    """Gather one function's sheet, in a fixed number of queries."""
    plan = result.plan
    panel = session.exec(select(Panel).where(Panel.id == function.panel_id)).one()
    board = plan.boards.get(function.board_id) if function.board_id is not None else None
    rows = session.exec(
        select(Candidate).where(Candidate.function_id == function.id).order_by(col(Candidate.id))
    ).all()
    order = {"chosen": 0, "weighed": 1, "rejected": 2}
    held = {row.component_id for row in rows}
    planned = plan.functions.get(function.id or 0)  # none where it was added this very moment
    contacts = contacts_of(planned) if planned else None
    chosen = plan.component_of(planned) if planned else None
    free = [component for component in plan.components.values() if component.id not in held]
    suits = [c for c in free if function.kind in [kind.strip() for kind in c.kinds.split(",")]]
    return FunctionSheet(
        function=function,
        panel=panel,
        board=board,
        candidates=tuple(
            _candidate(result, row, contacts) for row in sorted(rows, key=lambda r: order[r.state])
        ),
        scale=tuple(scale_of(session, function.id or 0)),
        pins=tuple(
            session.exec(
                select(PinUse).where(PinUse.function_id == function.id).order_by(col(PinUse.id))
            ).all()
        ),
        is_left_out=board is not None and function.id in plan.left_out.get(board.id or 0, frozenset()),
        findings=tuple(findings_about(result.findings, "function", function.code)),
        suiting=tuple((c.code, f"{c.code}: {c.name}") for c in suits),
        others=tuple((c.code, f"{c.code}: {c.name}") for c in free if c not in suits),
        wiring_remark=_wiring_remark(function.wiring_text, chosen, plan.components.values()),
        boards=tuple(
            (b.code, f"{b.code} {b.name or plan.modules[b.module_id].name}") for b in plan.boards.values()
        ),
    )


def _wiring_remark(wiring_text: str, chosen: Component | None, components: Iterable[Component]) -> str:
    """Where the wiring as typed and the component chosen are not the same, in a sentence; else empty."""
    word, _ = split_wiring(wiring_text)
    if not word or (chosen is not None and chosen.code.casefold() == word.casefold()):
        return ""
    stands = f"{chosen.code} is chosen" if chosen is not None else "none is chosen"
    if any(component.code.casefold() == word.casefold() for component in components):
        return f"The wiring as typed says {word}, {stands}: the text changes no choice."
    return f"The wiring as typed, {word!r}, is no component of the list, {stands}."


def _candidate(result: CockpitResult, row: Candidate, contacts: int | None) -> CandidateLine:
    plan = result.plan
    component = plan.components[row.component_id]
    needs = terminal_needs(plan, row.component_id)
    own = [need for need in needs if need.shared_as is None and need.need not in ("contact", "none")]
    each = sum(1 for need in own if need.per_position)
    pins = None if each and contacts is None else len(own) - each + each * (contacts or 0)
    shared = dict.fromkeys(
        need.shared_as or "matrix" for need in needs if need.shared_as or need.need == "contact"
    )
    return CandidateLine(
        component=component,
        state=row.state,
        reason=row.reason,
        own_pins=pins,
        shared=tuple(shared),
        rail=plan.rails.get(component.rail_id) if component.rail_id is not None else None,
    )
