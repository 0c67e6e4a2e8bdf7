"""The record of attempts at made parts: how many came good, what they took, what spoilt the others."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from app.calculations.source_mark import weakest

UNKNOWN_CAUSE = "unknown"


@dataclass(frozen=True, slots=True)
class LoggedAttempt:
    """One finished try at a part: good or scrap, printer hours and grams (None where not logged), the cause."""

    is_good: bool
    hours: float | None = None
    grams: float | None = None
    cause: str = ""
    hours_mark: str = "measured"
    grams_mark: str = "measured"


@dataclass(frozen=True, slots=True)
class CauseShare:
    """One cause of scrap: how many attempts, their share of all scrap (1 = all), the hours they took."""

    cause: str
    attempts: int
    share: float
    hours: float


@dataclass(frozen=True, slots=True)
class AttemptRecord:
    """What a set of attempts comes to; sums are of what was logged, `*_missing` counts attempts without."""

    attempts: int
    good: int
    good_share: float | None
    attempts_per_good: float | None
    hours_spent: float
    hours_in_scrap: float
    hours_missing: int
    grams_used: float
    grams_in_scrap: float
    grams_missing: int
    causes: tuple[CauseShare, ...]
    mark: str | None


def attempt_record(attempts: Iterable[LoggedAttempt]) -> AttemptRecord:
    """What a set of attempts comes to, for a part, a panel or all of them.

    Args:
        attempts: finished attempts, with hours and grams of 0 or more, None where not logged.

    Returns:
        Counts, the good share (1 = all; None without attempts), attempts for each good part (None without a good
        one), hours and grams in all and in scrap, and the causes of scrap, most first, ties by name.

    Raises:
        ValueError: hours or grams are negative or not finite.

    Where it holds: a record, not a forecast: the share of few attempts says little of the next.
    Source: arithmetic on the builder's own log.

    Example:
        >>> found = attempt_record([LoggedAttempt(True, 2.0), LoggedAttempt(False, 2.0, cause="split layers")])
        >>> found.good_share, found.hours_in_scrap, found.causes[0].cause
        (0.5, 2.0, 'split layers')
    """
    kept = list(attempts)
    for attempt in kept:
        if any(x is not None and not 0 <= x < math.inf for x in (attempt.hours, attempt.grams)):
            raise ValueError(f"hours {attempt.hours}, grams {attempt.grams}: neither may be negative")
    good = sum(attempt.is_good for attempt in kept)
    scrap = [attempt for attempt in kept if not attempt.is_good]
    marks = [attempt.hours_mark for attempt in kept if attempt.hours is not None]
    marks += [attempt.grams_mark for attempt in kept if attempt.grams is not None]
    return AttemptRecord(
        attempts=len(kept),
        good=good,
        good_share=good / len(kept) if kept else None,
        attempts_per_good=len(kept) / good if good else None,
        hours_spent=math.fsum(attempt.hours or 0 for attempt in kept),
        hours_in_scrap=math.fsum(attempt.hours or 0 for attempt in scrap),
        hours_missing=sum(attempt.hours is None for attempt in kept),
        grams_used=math.fsum(attempt.grams or 0 for attempt in kept),
        grams_in_scrap=math.fsum(attempt.grams or 0 for attempt in scrap),
        grams_missing=sum(attempt.grams is None for attempt in kept),
        causes=_causes_of(scrap),
        mark=weakest(marks),
    )


def _causes_of(scrap: list[LoggedAttempt]) -> tuple[CauseShare, ...]:
    hours_by_cause: dict[str, list[float]] = {}
    for attempt in scrap:
        hours_by_cause.setdefault(attempt.cause or UNKNOWN_CAUSE, []).append(attempt.hours or 0)
    shares = [
        CauseShare(cause, len(hours), len(hours) / len(scrap), math.fsum(hours))
        for cause, hours in hours_by_cause.items()
    ]
    return tuple(sorted(shares, key=lambda share: (-share.attempts, share.cause)))
