"""Calculators: power draw, pin count, print hours. Nothing is kept; the address holds what was entered."""

from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app import units
from app.calculations.power_draw import (
    Load,
    SupplyLoad,
    most_at_once,
    rail_load,
    staggered_peak_ma,
    supply_load,
)
from app.pages.calculator_form import Asked
from app.pages.print_forecast import print_forecast
from app.pages.sheet import cockpit_result, render
from app.planning.board_on_paper import BoardOnPaper, PaperChoice, TooManyOnPaper, board_on_paper
from app.planning.finding import percent
from app.planning.plan import Plan
from app.tables import Component

router = APIRouter()

LOAD_ROWS = PART_ROWS = range(1, 9)
LOAD_SHARE_PERCENT = 80.0
ABSURD_LOAD_MA = 20_000.0
LOAD_FIELDS = ("component", "count", "idle", "typical", "peak", "stall")
PART_FIELDS = ("component", "count", "positions")


@router.get("/calculators")
def list_calculators(request: Request) -> Response:
    """The three calculators."""
    return render(request, "calculators.html")


@router.get("/calculators/power-draw")
def show_power_draw(request: Request) -> Response:
    """What so many loads draw from one supply."""
    plan = cockpit_result(request).plan
    form = Asked(request)
    components = {c.code: c for c in plan.components.values() if c.peak_ma is not None}
    loads = [load for k in LOAD_ROWS if (load := _load(form, k, components)) is not None]
    return _answered(
        request,
        "calculator_power_draw.html",
        form,
        rows=LOAD_ROWS,
        fields=["rating", "share", "at_once", *(f"{name}{k}" for k in LOAD_ROWS for name in LOAD_FIELDS)],
        components=[(c.code, f"{c.code} {c.name}") for c in components.values()],
        loads=loads,
        answer=_power_answer(form, loads) if loads else None,
    )


@router.get("/calculators/pin-count")
def show_pin_count(request: Request) -> Response:
    """What so many components need of a board's pins, and whether they really fit."""
    plan = cockpit_result(request).plan
    form = Asked(request)
    components = {c.code: c for c in plan.components.values() if plan.terminals.get(c.id or 0)}
    modules = [(module.code, module.name) for module in plan.modules.values()]
    return _answered(
        request,
        "calculator_pin_count.html",
        form,
        rows=PART_ROWS,
        fields=["module", *(f"{name}{k}" for k in PART_ROWS for name in PART_FIELDS)],
        components=[(c.code, f"{c.code} {c.name}") for c in components.values()],
        modules=modules,
        answer=_pin_answer(form, plan, components, [code for code, _ in modules]),
    )


@router.get("/calculators/print-hours")
def show_print_hours(request: Request) -> Response:
    """What a part will take with the failures it will have."""
    form = Asked(request)
    return _answered(
        request,
        "calculator_print_hours.html",
        form,
        fields=["hours", "share", "attempts", "good", "parts", "pieces", "joining"],
        answer=print_forecast(form),
    )


def _answered(request: Request, template: str, form: Asked, **values: Any) -> Response:
    response = render(request, template, block="answer", status=form.status, form=form, **values)
    response.headers.update(form.headers)
    return response


# Power draw -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PowerAnswer:
    """What the loads draw, and what it means for the supply."""

    load: SupplyLoad
    verdict: str
    sentence: str
    remedies: tuple[str, ...]
    load_share: float


def _load(form: Asked, k: int, components: dict[str, Component]) -> Load | None:
    """One row of loads; figures left empty are those of the component picked. None where the row is empty."""
    if not any(form.value(f"{name}{k}").strip() for name in LOAD_FIELDS):
        return None
    code = form.value(f"component{k}").strip()
    component = components.get(code)
    if code and component is None:
        form.refuse(f"component{k}", f"There is no component {code} with a current in this cockpit.")
    count = form.number(f"count{k}", "The count", most=10_000)
    figures: dict[str, Any] = {}
    for case in ("idle", "typical", "peak"):
        own = form.figure(f"{case}{k}", "current_ma", f"The {case} current", ask_if_over=ABSURD_LOAD_MA)
        from_component = component is not None and not form.value(f"{case}{k}").strip()
        figures[f"{case}_ma"] = getattr(component, f"{case}_ma") if from_component else own
        figures[f"{case}_mark"] = getattr(component, f"{case}_mark") if from_component else "assumed"
    if form.error(f"count{k}"):
        figures = {}  # so many of it cannot be told
    return Load(
        name=component.name if component else f"load {k}",
        count=1 if count is None else count,
        peak_is_stall=form.flag(f"stall{k}") or (component is not None and component.peak_is_stall),
        **figures,
    )


def _power_answer(form: Asked, loads: list[Load]) -> PowerAnswer:
    rating_a = form.figure("rating", "rating_a", "The rating")
    if rating_a == 0:
        form.refuse("rating", "The rating is over 0 A.")
        rating_a = None
    share = form.figure("share", "share_percent", "The share that may be used")
    if share is not None and not 0 < share <= 100:
        form.refuse("share", "The share that may be used is over 0 and at most 100 %.")
    is_share_known = not form.error("share")
    load_share = (share or LOAD_SHARE_PERCENT) / 100 if is_share_known else LOAD_SHARE_PERCENT / 100
    at_once = form.number("at_once", "How many move at a time", most=10_000)
    rail = rail_load(loads)
    load = supply_load([rail], rating_a, load_share=load_share)
    verdict = load.verdict
    peak = units.show(load.peak.draw_ma / 1000, "A", 2)
    if rating_a is None:
        sentence = f"The loads draw {peak} with everything at its peak; of what rating cannot be told."
    else:
        sentence = (
            f"The loads draw {peak} with everything at its peak: {percent(load.peak_share or 0)} of "
            f"{units.show(rating_a, 'A')}, and {percent(load_share)} may be used."
        )
    if load.peak.missing:
        sentence += f" Not known: the peak of {', '.join(load.peak.missing)}."
    if not is_share_known:
        sentence += " The share that may be used was not understood."
        verdict = "stop" if verdict == "stop" else "cannot tell"
    return PowerAnswer(load, verdict, sentence, _power_remedies(loads, load, at_once), load_share)


def _power_remedies(loads: list[Load], load: SupplyLoad, at_once: int | None) -> tuple[str, ...]:
    remedies: list[str] = []
    if load.verdict != "fine" and load.needed_rating_a:
        remedies.append(f"A supply of {units.show(load.needed_rating_a, 'A', 1)} or more carries the peak.")

    def staggered(number: int) -> None:
        draw = staggered_peak_ma(loads, number)
        if draw is not None:
            words = units.show(draw / 1000, "A", 2)
            of = (
                f", {percent(draw / 1000 / load.rating_a)} of {units.show(load.rating_a, 'A')}"
                if load.rating_a
                else ""
            )
            remedies.append(f"Home the motors {number} at a time, the rest idle: {words}{of}.")

    can_stall = any(each.peak_is_stall for each in loads)
    if at_once is not None and can_stall:
        staggered(at_once)
    if can_stall and load.allowed_a is not None and load.verdict in ("stop", "caution"):
        most = most_at_once(loads, load.allowed_a * 1000)
        if most and most != at_once:
            staggered(most)
    if at_once is not None and not can_stall:
        remedies.append("No load is marked as one that can stall, so none can take turns.")
    elif at_once is not None and staggered_peak_ma(loads, at_once) is None:
        remedies.append("Taking turns cannot be told: the idle or peak current of a load is missing.")
    return tuple(remedies)


# Pin count ------------------------------------------------------------------------------------------------


def _pin_answer(
    form: Asked, plan: Plan, components: dict[str, Component], modules: list[str]
) -> BoardOnPaper | None:
    choices: list[PaperChoice] = []
    for k in PART_ROWS:
        code = form.value(f"component{k}").strip()
        count = form.number(f"count{k}", "The count", most=500)
        positions = form.number(f"positions{k}", "The number of positions", least=1, most=100)
        component = components.get(code)
        if code and component is None:
            form.refuse(f"component{k}", f"There is no component {code} with terminals in this cockpit.")
        elif not code and (count is not None or positions is not None):
            form.refuse(f"component{k}", "Choose the component that is counted here.")
        elif component is not None and not form.error(f"count{k}"):
            choices.append(PaperChoice(component.id or 0, 1 if count is None else count, positions))
    module = form.value("module").strip()
    if module and module not in modules:
        form.refuse("module", f"There is no board module {module} in this cockpit.")
    elif not module and choices:
        form.refuse("module", "Choose the board module.")
    if not choices or form.error("module"):
        return None
    try:
        answer = board_on_paper(plan, module, choices)
    except TooManyOnPaper as error:
        form.refuse("module", str(error))
        return None
    if answer is None:
        return None
    finding = replace(answer.pins.finding, about=(), mend_at="")
    if not form.is_fine and finding.verdict in ("fine", "caution"):
        finding = replace(
            finding,
            verdict="cannot tell",
            sentence=f"A row was not understood. Without it: {finding.sentence}",
        )
    return replace(answer, pins=replace(answer.pins, finding=finding))
