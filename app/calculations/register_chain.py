"""A chain of shift registers: its refresh time, and what a long clock lead and power-up ask for."""

from dataclasses import dataclass

from app.calculations.verdict import verdict_of

HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class RegisterChain:
    """A chain's chips and refresh time; `faults` holds "long clock lead" and "outputs random at power-up".

    A chip has a capacitor of 100 nF beside it; a long clock lead needs a buffer and a series resistor; the
    enable line needs a pull-up that holds the outputs off until the first load.
    """

    chips: int
    refresh_us: float | None
    refreshes_per_s: float | None
    faults: tuple[str, ...]
    missing: tuple[str, ...]
    verdict: str


def register_chain(
    bits: int,
    clock_khz: float | None,
    clock_run_mm: float | None,
    *,
    has_buffer: bool | None,
    has_enable_pull_up: bool | None,
    run_limit_mm: float = 300.0,
    bits_per_chip: int = 8,
) -> RegisterChain:
    """How fast a chain of shift registers is refreshed and whether its clock is wired well.

    Args:
        bits: bits in the chain, 1 or more.
        clock_khz: clock in kHz, over 0; None where not known.
        clock_run_mm: length of the clock lead in mm, 0 or more; None where not known.
        has_buffer: the clock has a buffer and a series resistor; None where not known.
        has_enable_pull_up: a pull-up holds the outputs off until the first load, or the chain only reads; None
            where not known.
        run_limit_mm: longest clock lead without a buffer.
        bits_per_chip: bits of one register, 1 or more.

    Returns:
        Chips, time of one refresh, and what is wrong. A long lead without a buffer and outputs that come up at
        random are cautions; a missing input that matters makes it cannot tell. The clock does not matter to it.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: the clock is fed from the far end of the data chain, so that no chip is clocked late.
    Source: arithmetic; 300 mm, the buffer and the pull-up are common practice.

    Example:
        >>> found = register_chain(64, 1000, 450, has_buffer=False, has_enable_pull_up=True)
        >>> found.chips, found.refresh_us, found.faults, found.verdict
        (8, 64.0, ('long clock lead',), 'caution')
    """
    if bits < 1 or bits_per_chip < 1 or (clock_khz is not None and not clock_khz > 0):
        raise ValueError(f"{bits} bits, {bits_per_chip} a chip, clock_khz {clock_khz}: each must be over 0")
    if (clock_run_mm is not None and not clock_run_mm >= 0) or not run_limit_mm >= 0:
        raise ValueError(f"clock_run_mm {clock_run_mm} and its limit {run_limit_mm} must not be negative")
    is_long = None if clock_run_mm is None else clock_run_mm > run_limit_mm * (1 + HAIR)
    faults: tuple[str, ...] = ("long clock lead",) if is_long and has_buffer is False else ()
    faults += ("outputs random at power-up",) if has_enable_pull_up is False else ()
    missing: tuple[str, ...] = ("clock lead",) if is_long is None and not has_buffer else ()
    missing += ("buffer",) if is_long and has_buffer is None else ()
    missing += ("pull-up on the enable line",) if has_enable_pull_up is None else ()
    refresh_us = None if clock_khz is None else bits * 1000 / clock_khz
    return RegisterChain(
        chips=-(-bits // bits_per_chip),
        refresh_us=refresh_us,
        refreshes_per_s=None if refresh_us is None else 1e6 / refresh_us,
        faults=faults,
        missing=missing,
        verdict=verdict_of(is_stop=False, is_caution=bool(faults), is_complete=not missing),
    )
