"""Encoder rate: how fast a knob changes its contacts, and how often they must be looked at."""

import math
from dataclasses import dataclass

from app.calculations.verdict import verdict_of

HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class EncoderRate:
    """Changes a second of a turning knob, the sample rate it needs, and the longest time nobody may look.

    `missed_changes` is how many changes go by in the time blocked, beyond the one that is still seen.
    """

    changes_per_s: float | None
    sample_hz: float | None
    longest_blocked_ms: float | None
    blocked_ms: float | None
    missed_changes: int | None
    missing: tuple[str, ...]
    verdict: str


def encoder_rate(
    turns_per_s: float | None,
    clicks_per_turn: int | None,
    changes_per_click: int | None,
    *,
    blocked_ms: float | None,
    sample_factor: float = 2.0,
) -> EncoderRate:
    """Whether a knob is looked at often enough.

    Args:
        turns_per_s: how fast it is turned at most, over 0; None where not known.
        clicks_per_turn: clicks of a turn, 1 or more; None where not known.
        changes_per_click: changes of its two contacts a click: 4, 2 or 1; None where not known.
        blocked_ms: the longest time in ms in which nothing looks at it: a pass of the loop where it is polled
            there, the time interrupts are held off where it is read by interrupt; 0 or more, None where not
            known.
        sample_factor: samples a change, 1 or more.

    Returns:
        Changes a second, samples a second needed, the longest time allowed and what is missed. Blocked for that
        long or longer is a stop; a missing input makes it cannot tell.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: for contacts evenly spaced; bounce needs faster samples or a filter.
    Source: twice as many samples as changes is common practice.

    Example:
        >>> found = encoder_rate(5, 24, 4, blocked_ms=38.9)
        >>> found.changes_per_s, found.sample_hz, round(found.longest_blocked_ms, 2), found.verdict
        (480, 960.0, 1.04, 'stop')
    """
    figures = {
        "turns a second": turns_per_s,
        "clicks a turn": clicks_per_turn,
        "changes a click": changes_per_click,
    }
    if wrong := [name for name, figure in figures.items() if figure is not None and not figure > 0]:
        raise ValueError(f"{', '.join(wrong)} must be over 0")
    if (blocked_ms is not None and not blocked_ms >= 0) or not sample_factor >= 1:
        raise ValueError(
            f"blocked_ms {blocked_ms} must not be negative, sample_factor {sample_factor} 1 or more"
        )
    rate = None
    if turns_per_s is not None and clicks_per_turn is not None and changes_per_click is not None:
        rate = turns_per_s * clicks_per_turn * changes_per_click
    longest_ms = None if rate is None else 1000 / (sample_factor * rate)
    missing = tuple(name for name, figure in figures.items() if figure is None)
    missing += ("time blocked",) if blocked_ms is None else ()
    is_late = longest_ms is not None and blocked_ms is not None and blocked_ms >= longest_ms * (1 - HAIR)
    return EncoderRate(
        changes_per_s=rate,
        sample_hz=None if rate is None else sample_factor * rate,
        longest_blocked_ms=longest_ms,
        blocked_ms=blocked_ms,
        missed_changes=(
            None if rate is None or blocked_ms is None else max(0, math.floor(blocked_ms * rate / 1000) - 1)
        ),
        missing=missing,
        verdict=verdict_of(is_stop=is_late, is_caution=False, is_complete=not missing),
    )
