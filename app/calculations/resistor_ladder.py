"""A resistor ladder: whether the positions of a selector on one analogue pin can be told apart."""

import math
from dataclasses import dataclass

from app.calculations.verdict import verdict_of

HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class ResistorLadder:
    """Half the spacing of two positions against the worst error, in counts of the converter."""

    full_scale: int
    half_spacing_counts: float | None
    error_counts: float | None
    most_positions: int | None
    missing: tuple[str, ...]
    verdict: str


def resistor_ladder(
    positions: int | None,
    tolerance_share: float | None,
    *,
    bits: int = 10,
    noise_counts: float = 3.0,
) -> ResistorLadder:
    """Whether every position of a ladder of equal resistors is read for certain.

    Args:
        positions: positions of the selector, 2 or more; None where not known.
        tolerance_share: tolerance of the resistors, 0.05 for 5 %; 0 or more and less than 1, None where not
            known.
        bits: bits of the converter, 1 or more.
        noise_counts: noise of a reading in counts, 0 or more.

    Returns:
        Half the spacing between two positions and the worst error with noise, both in counts, and the most
        positions that this tolerance allows. An error as large as half the spacing is a stop; a missing input
        makes it cannot tell.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: for equal resistors between the supply that is also the converter's reference and ground,
        positions at both ends. The wiper is open between positions: two equal readings are to be waited for.
    Source: arithmetic: the middle of the ladder is worst, with all resistors above it at one end of the tolerance
        and all below at the other; that is half the tolerance of full scale. Three counts of noise is common
        practice.

    Example:
        >>> found = resistor_ladder(24, 0.05)
        >>> round(found.half_spacing_counts, 1), round(found.error_counts, 1), found.most_positions, found.verdict
        (22.2, 28.6, 18, 'stop')
        >>> resistor_ladder(24, 0.01).verdict
        'fine'
    """
    if positions is not None and positions < 2:
        raise ValueError(f"positions {positions} must be 2 or more")
    if tolerance_share is not None and not 0 <= tolerance_share < 1:
        raise ValueError(f"tolerance_share {tolerance_share} must be 0 or more and less than 1")
    if bits < 1 or not noise_counts >= 0:
        raise ValueError(f"bits {bits} must be 1 or more, noise_counts {noise_counts} not negative")
    full_scale: int = 2**bits - 1
    half = None if positions is None else full_scale / (positions - 1) / 2
    error = None if tolerance_share is None else tolerance_share / 2 * full_scale + noise_counts
    most = None
    if error:
        most = max(1, math.ceil(full_scale / (2 * error) * (1 - HAIR)))
    missing: tuple[str, ...] = ("positions",) if positions is None else ()
    missing += ("tolerance",) if tolerance_share is None else ()
    return ResistorLadder(
        full_scale=full_scale,
        half_spacing_counts=half,
        error_counts=error,
        most_positions=most,
        missing=missing,
        verdict=verdict_of(
            is_stop=half is not None and error is not None and error >= half * (1 - HAIR),
            is_caution=False,
            is_complete=not missing,
        ),
    )
