"""What each supply and rail carries, typical and with everything at its peak (E1)."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from app import units
from app.calculations.power_draw import (
    Load,
    RailLoad,
    SupplyLoad,
    most_at_once,
    rail_load,
    staggered_peak_ma,
    supply_load,
)
from app.planning.finding import About, Finding, percent
from app.planning.plan import Plan
from app.tables import Component, Rail, Supply

SUPPLY_SOURCE = (
    "at most 80 % of a supply's rating in the worst case: 125 % sizing for steady load, common practice"
)


@dataclass(frozen=True, slots=True)
class RailSum:
    """One rail: its loads summed, and its share of its supply's rating at peak (None where unknown)."""

    rail: Rail
    load: RailLoad
    loads: tuple[Load, ...]
    peak_share: float | None


@dataclass(frozen=True, slots=True)
class SupplySum:
    """One supply with its rails, or the rails that have none (supply None)."""

    supply: Supply | None
    rails: tuple[RailSum, ...]
    load: SupplyLoad
    finding: Finding


def rail_loads(plan: Plan, panel_id: int | None = None) -> dict[int, list[Load]]:
    """The loads on each rail by rail id, of one panel or of the whole cockpit; alike ones as one with a count."""
    counts: Counter[int] = Counter(
        function.component_id
        for function in plan.functions.values()
        if function.component_id is not None and panel_id in (None, function.panel_id)
    )
    for load in plan.panel_loads:
        if panel_id in (None, load.panel_id):
            counts[load.component_id] += load.count
    loads: dict[int, list[Load]] = {}
    for component_id, count in counts.items():
        component = plan.components[component_id]
        if component.rail_id is not None:
            loads.setdefault(component.rail_id, []).append(_load(component, count))
    return loads


def supply_sums(plan: Plan) -> tuple[SupplySum, ...]:
    """Every supply with its rails summed over the cockpit; then each rail that has loads but no supply."""
    loads = rail_loads(plan)
    sums = [
        _sum(plan, supply, [r for r in plan.rails.values() if r.supply_id == supply.id], loads)
        for supply in plan.supplies.values()
    ]
    sums += [
        _sum(plan, None, [rail], loads)
        for rail in plan.rails.values()
        if rail.supply_id is None and loads.get(rail.id or 0)
    ]
    return tuple(sums)


def unpowered_findings(plan: Plan) -> tuple[Finding, ...]:
    """Components in use that draw current but name no rail: their current is in no sum."""
    used = {f.component_id for f in plan.functions.values()} | {x.component_id for x in plan.panel_loads}
    return tuple(
        Finding(
            verdict="cannot tell",
            about=(About("component", component.code, component.name),),
            sentence=f"{component.name} draws current, but no rail is entered for it, so it is in no sum.",
            remedies=("Enter its rail.",),
            source_mark=None,
            source=SUPPLY_SOURCE,
            mend_at=f"/components/{component.code}",
            mend_word="Enter its rail",
        )
        for component in plan.components.values()
        if component.id in used
        and component.rail_id is None
        and any(x is not None for x in (component.idle_ma, component.typical_ma, component.peak_ma))
    )


def _load(component: Component, count: int) -> Load:
    return Load(
        name=component.name,
        count=count,
        idle_ma=component.idle_ma,
        typical_ma=component.typical_ma,
        peak_ma=component.peak_ma,
        idle_mark=component.idle_mark,
        typical_mark=component.typical_mark,
        peak_mark=component.peak_mark,
        peak_is_stall=component.peak_is_stall,
    )


def _sum(plan: Plan, supply: Supply | None, rails: Sequence[Rail], loads: dict[int, list[Load]]) -> SupplySum:
    on_rails = [tuple(loads.get(rail.id or 0, ())) for rail in rails]
    summed = [rail_load(on_rail) for on_rail in on_rails]
    total = supply_load(
        summed,
        supply.rating_a if supply else None,
        rating_mark=supply.rating_mark if supply else "assumed",
        load_share=supply.load_share if supply else 0.8,
    )
    rail_sums = tuple(
        RailSum(rail, load, on_rail, share)
        for rail, load, on_rail, share in zip(rails, summed, on_rails, total.rail_shares, strict=True)
    )
    unchosen = sum(1 for f in plan.functions.values() if f.component_id is None)
    every_load = [load for on_rail in on_rails for load in on_rail]
    return SupplySum(supply, rail_sums, total, _finding(supply, rail_sums, total, every_load, unchosen))


def _finding(
    supply: Supply | None,
    rails: Sequence[RailSum],
    total: SupplyLoad,
    loads: Sequence[Load],
    unchosen: int,
) -> Finding:
    peak = units.show(total.peak.draw_ma / 1000, "A", 2)
    typical = units.show(total.typical.draw_ma / 1000, "A", 2)
    rail_names = " and ".join(f"rail {sum_.rail.name}" for sum_ in rails)
    verdict = total.verdict
    about: tuple[About, ...]
    if supply is None:
        rail = rails[0].rail
        about = (About("rail", rail.code, rail.name),)
        sentence = (
            f"Rail {rail.name} draws {peak} with everything at its peak, but no supply is entered for it"
        )
        remedies: tuple[str, ...] = (
            f"Enter its supply; it needs a rating of at least {units.show(total.needed_rating_a, 'A', 1)}.",
        )
        mend_at = "/power"
        verdict = "cannot tell"
    else:
        about = (
            About("supply", supply.code, supply.name),
            *(About("rail", sum_.rail.code, sum_.rail.name) for sum_ in rails),
        )
        mend_at = "/power"
        if not rails or not loads:
            verdict = "cannot tell"
            sentence = f"{supply.name} feeds no load yet"
            remedies = ()
        elif total.rating_a is None:
            sentence = f"{supply.name} ({rail_names}) carries {peak} at peak, but its rating is not entered"
            remedies = (f"It needs a rating of at least {units.show(total.needed_rating_a, 'A', 1)}.",)
        else:
            sentence = (
                f"{supply.name} ({rail_names}) carries {typical} typical and {peak} with everything at its "
                f"peak: {percent(total.peak.draw_ma / 1000 / total.rating_a)} of {units.show(total.rating_a, 'A')}, "
                f"and {percent(supply.load_share)} may be used"
            )
            remedies = _remedies(total, loads, supply) if verdict in ("stop", "caution") else ()
        if total.peak.missing:
            sentence += f"; not known: the peak of {', '.join(total.peak.missing[:4])}"
        if unchosen and verdict in ("fine", "cannot tell") and loads:
            verdict = "cannot tell"
            sentence += f"; {unchosen} functions of the cockpit have no component chosen yet"
    return Finding(
        verdict=verdict,  # type: ignore[arg-type]  # one of the literals
        about=about,
        sentence=sentence + ("; the boards' own current is not counted." if loads else "."),
        remedies=remedies,
        source_mark=total.mark,
        source=SUPPLY_SOURCE,
        mend_at=mend_at,
        mend_word="See the rails",
    )


def _remedies(total: SupplyLoad, loads: Sequence[Load], supply: Supply) -> tuple[str, ...]:
    rating_a = total.rating_a or 0.0
    remedies = [
        f"A supply of {units.show(total.needed_rating_a, 'A', 1)} or more, or the loads on two supplies.",
    ]
    largest = most_at_once(loads, supply.load_share * rating_a * 1000) or 0
    for at_once in (largest, largest - 1):
        staggered = staggered_peak_ma(loads, at_once) if at_once > 0 else None
        if staggered is not None:
            remedies.append(
                f"Home the motors {at_once} at a time, the rest idle: {units.show(staggered / 1000, 'A', 2)}, "
                f"{percent(staggered / 1000 / rating_a)} of {units.show(rating_a, 'A')}."
            )
    return tuple(remedies)
