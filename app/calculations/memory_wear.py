"""Memory wear: how long memory cells last that are written again and again."""

import math
from dataclasses import dataclass

from app.calculations.verdict import verdict_of

HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class MemoryWear:
    """Life of the cells in hours, and for a life wanted: the cells to write in turn, the fastest rate."""

    life_h: float | None
    cells_needed: int | None
    most_writes_per_s: float | None
    missing: tuple[str, ...]
    verdict: str


def memory_wear(
    endurance_writes: float | None,
    writes_per_s: float | None,
    *,
    cells: int = 1,
    wanted_h: float | None = None,
) -> MemoryWear:
    """How long memory lasts that is written at a steady rate.

    Args:
        endurance_writes: writes that a cell stands, over 0; None where not known.
        writes_per_s: writes a second, 0 or more; None where not known.
        cells: cells written in turn, 1 or more.
        wanted_h: hours of running that it has to last, over 0; None where not known.

    Returns:
        The life in hours, endless without a write; for a life wanted also the cells and the rate that give it.
        Less than wanted is a stop; a missing input makes it cannot tell, but for cells never written.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: every write wears the cell, and the cells are written equally often.
    Source: arithmetic; 100 000 writes are what ATmega data sheets list for their EEPROM.

    Example:
        >>> round(memory_wear(100_000, 10).life_h, 2)
        2.78
        >>> memory_wear(100_000, 10, wanted_h=1000).cells_needed
        360
    """
    positive = {"endurance_writes": endurance_writes, "wanted_h": wanted_h, "cells": cells}
    if wrong := [name for name, figure in positive.items() if figure is not None and not figure > 0]:
        raise ValueError(f"{', '.join(wrong)} must be over 0")
    if writes_per_s is not None and not 0 <= writes_per_s < math.inf:
        raise ValueError(f"writes_per_s {writes_per_s} must not be negative")
    life_h = math.inf if writes_per_s == 0 else None
    if writes_per_s and endurance_writes is not None:
        life_h = endurance_writes * cells / writes_per_s / 3600
    cells_needed = rate = None
    if wanted_h is not None and endurance_writes is not None:
        rate = endurance_writes * cells / (wanted_h * 3600)
        if writes_per_s is not None:
            cells_needed = max(1, math.ceil(writes_per_s * wanted_h * 3600 / endurance_writes * (1 - HAIR)))
    inputs = {"endurance": endurance_writes, "writes a second": writes_per_s, "life wanted": wanted_h}
    missing = () if writes_per_s == 0 else tuple(name for name, value in inputs.items() if value is None)
    return MemoryWear(
        life_h=life_h,
        cells_needed=cells_needed,
        most_writes_per_s=rate,
        missing=missing,
        verdict=verdict_of(
            is_stop=life_h is not None and wanted_h is not None and life_h < wanted_h * (1 - HAIR),
            is_caution=False,
            is_complete=not missing,
        ),
    )
