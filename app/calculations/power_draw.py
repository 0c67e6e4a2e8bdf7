"""Power draw: what the loads of a rail take, idle, typical and all at their peak, against the supply."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from app.calculations.source_mark import weakest
from app.calculations.verdict import verdict_of


@dataclass(frozen=True, slots=True)
class Load:
    """So many alike parts on a rail; currents in mA for one piece, None where not known."""

    name: str
    count: int = 1
    idle_ma: float | None = None
    typical_ma: float | None = None
    peak_ma: float | None = None
    idle_mark: str = "assumed"
    typical_mark: str = "assumed"
    peak_mark: str = "assumed"
    peak_is_stall: bool = False


@dataclass(frozen=True, slots=True)
class CaseDraw:
    """What is drawn in one case: the sum of the known figures, their weakest mark, the loads without one."""

    draw_ma: float
    mark: str | None
    missing: tuple[str, ...]

    @property
    def is_known(self) -> bool:
        """Every load has its figure."""
        return not self.missing


@dataclass(frozen=True, slots=True)
class RailLoad:
    """What the loads of one rail draw, in three cases."""

    count: int
    idle: CaseDraw
    typical: CaseDraw
    peak: CaseDraw


@dataclass(frozen=True, slots=True)
class SupplyLoad:
    """What the rails of one supply draw together against its rating; shares are of the rating, 1 = all of it."""

    typical: CaseDraw
    peak: CaseDraw
    rating_a: float | None
    allowed_a: float | None
    typical_share: float | None
    peak_share: float | None
    rail_shares: tuple[float | None, ...]
    needed_rating_a: float
    verdict: str
    mark: str | None


def rail_load(loads: Iterable[Load]) -> RailLoad:
    """What the loads of one rail draw: idle, typical, and all at their peak at once.

    Args:
        loads: the parts on the rail, each with its count (0 or more) and its currents in mA (0 or more, None
            where not known).

    Returns:
        For each case the sum of the known currents in mA, the weakest mark among them, and the names of the
        loads whose figure is missing.

    Raises:
        ValueError: a count or a current is negative or not finite.

    Where it holds: direct current on one voltage; the peaks are taken to coincide, which is the worst case.
    Source: Kirchhoff's current law. That all peaks coincide is common practice for sizing a supply.

    Example:
        >>> rail_load([Load("servo", 13, idle_ma=10, typical_ma=60, peak_ma=700)]).peak.draw_ma
        9100.0
    """
    kept = list(loads)
    for load in kept:
        currents = (load.idle_ma, load.typical_ma, load.peak_ma)
        if load.count < 0 or any(c is not None and not (0 <= c < math.inf) for c in currents):
            raise ValueError(f"{load.name}: count {load.count}, currents {currents}: none may be negative")
    return RailLoad(
        sum(load.count for load in kept),
        _case_draw(kept, lambda load: (load.idle_ma, load.idle_mark)),
        _case_draw(kept, lambda load: (load.typical_ma, load.typical_mark)),
        _case_draw(kept, lambda load: (load.peak_ma, load.peak_mark)),
    )


def _case_draw(loads: list[Load], figure_of: Callable[[Load], tuple[float | None, str]]) -> CaseDraw:
    figures = [(load, *figure_of(load)) for load in loads if load.count]
    return CaseDraw(
        math.fsum(load.count * draw for load, draw, _ in figures if draw is not None),
        weakest(mark for _, draw, mark in figures if draw is not None),
        tuple(load.name for load, draw, _ in figures if draw is None),
    )


def supply_load(
    rails: Sequence[RailLoad],
    rating_a: float | None,
    *,
    rating_mark: str = "assumed",
    load_share: float = 0.8,
) -> SupplyLoad:
    """What a supply must give to all its rails at once, against its rating.

    Args:
        rails: the loads of each rail that the supply feeds.
        rating_a: its rating in A, over 0; None where not known.
        rating_mark: the source mark of the rating.
        load_share: how much of the rating may be used at peak, over 0 and at most 1.

    Returns:
        Typical and peak draw in mA, their shares of the rating, each rail's share at peak, and the rating in A
        that the known peak would need. Above the rating the verdict is stop, above `load_share` of it caution;
        a load or a rating that is missing makes it cannot tell, unless the known loads already say worse.

    Raises:
        ValueError: the rating or the share is out of its range.

    Where it holds: continuous load at room temperature; a warm place leaves less.
    Source: sizing a supply at 125 % of a continuous load, NEC 210.20(A) and 215.3 (cited from memory), that is
        at most 80 % of the rating. That the band from 80 to 100 % is a caution is common practice.

    Example:
        >>> servos = rail_load([Load("servo", 13, idle_ma=10, typical_ma=60, peak_ma=700)])
        >>> found = supply_load([servos], 5.0)
        >>> found.verdict, found.peak_share, round(found.needed_rating_a, 1)
        ('stop', 1.82, 11.4)
    """
    if rating_a is not None and not 0 < rating_a < math.inf:
        raise ValueError(f"rating_a {rating_a} must be over 0")
    if not 0 < load_share <= 1:
        raise ValueError(f"load_share {load_share} must be over 0 and at most 1")
    typical = _sum_of([rail.typical for rail in rails])
    peak = _sum_of([rail.peak for rail in rails])
    rating_ma = None if rating_a is None else rating_a * 1000
    is_over = rating_ma is not None and peak.draw_ma > rating_ma * (1 + 1e-9)
    is_near = rating_ma is not None and peak.draw_ma > rating_ma * load_share * (1 + 1e-9)
    marks = [mark for mark in (peak.mark, None if rating_a is None else rating_mark) if mark is not None]
    return SupplyLoad(
        typical=typical,
        peak=peak,
        rating_a=rating_a,
        allowed_a=None if rating_a is None else rating_a * load_share,
        typical_share=None if rating_ma is None else typical.draw_ma / rating_ma,
        peak_share=None if rating_ma is None else peak.draw_ma / rating_ma,
        rail_shares=tuple(None if rating_ma is None else rail.peak.draw_ma / rating_ma for rail in rails),
        needed_rating_a=peak.draw_ma / 1000 / load_share,
        verdict=verdict_of(
            is_stop=is_over,
            is_caution=is_near,
            is_complete=rating_ma is not None and peak.is_known,
        ),
        mark=weakest(marks),
    )


def _sum_of(cases: Sequence[CaseDraw]) -> CaseDraw:
    return CaseDraw(
        math.fsum(case.draw_ma for case in cases),
        weakest(case.mark for case in cases if case.mark is not None),
        tuple(name for case in cases for name in case.missing),
    )


def staggered_peak_ma(loads: Iterable[Load], at_once: int) -> float | None:
    """The worst draw when of the loads that can stall, as in homing, only so many move at once.

    Args:
        loads: the parts on the rail; those with `peak_is_stall` take turns, all others are at their peak.
        at_once: how many of those may be at their peak at once, 0 or more; the rest are idle.

    Returns:
        The draw in mA with the hungriest of them moving, or None where a figure that it needs is missing.

    Raises:
        ValueError: `at_once` is negative.

    Where it holds: for drives that stay idle until their turn, which the firmware must see to.
    Source: arithmetic: the sum of the idle currents and of the largest `at_once` differences to the peak.

    Example:
        >>> staggered_peak_ma([Load("servo", 13, idle_ma=10, peak_ma=700, peak_is_stall=True)], 4)
        2890.0
    """
    if at_once < 0:
        raise ValueError(f"at_once {at_once} must not be negative")
    standing = 0.0
    steps: list[tuple[float, int]] = []
    for load in loads:
        if not load.count:
            continue
        if load.peak_ma is None or (load.peak_is_stall and load.idle_ma is None):
            return None
        if load.peak_is_stall and load.idle_ma is not None:
            standing += load.count * load.idle_ma
            steps.append((max(0.0, load.peak_ma - load.idle_ma), load.count))
        else:
            standing += load.count * load.peak_ma
    for step, count in sorted(steps, reverse=True):
        moving = min(count, at_once)
        standing += moving * step
        at_once -= moving
    return standing


def most_at_once(loads: Iterable[Load], allowed_ma: float) -> int | None:
    """How many of the loads that can stall may move at once within an allowed draw.

    Args:
        loads: the parts on the rail, as for `staggered_peak_ma`.
        allowed_ma: what the supply may give them, in mA.

    Returns:
        The largest number that stays within it whichever of them move, 0 where not one may; None where a figure
        that it needs is missing or no load can stall.

    Where it holds: as `staggered_peak_ma`.
    Source: as `staggered_peak_ma`.

    Example:
        >>> most_at_once([Load("servo", 13, idle_ma=10, peak_ma=700, peak_is_stall=True)], 4000)
        5
    """
    kept = list(loads)
    movers = sum(load.count for load in kept if load.peak_is_stall)
    if not movers or staggered_peak_ma(kept, 0) is None:
        return None
    low, high = 0, movers
    while low < high:
        middle = (low + high + 1) // 2
        draw = staggered_peak_ma(kept, middle)
        if draw is not None and draw <= allowed_ma * (1 + 1e-9):
            low = middle
        else:
            high = middle - 1
    return low
