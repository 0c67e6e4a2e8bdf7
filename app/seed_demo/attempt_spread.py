"""Spreads the demo's attempts over its days: which came out good, of which revision, and why the others failed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

FIRST_DAY, LAST_DAY = -546, -1

# Of 74 failed attempts, so many of each cause.
CAUSES = (
    ("wrong size", 25),
    ("design changed", 16),
    ("bed or corner lift", 11),
    ("split layers", 6),
    ("supports", 5),
    ("looks", 5),
    ("power or filament ran out", 4),
    ("unknown", 2),
)

# A part that goes on from another's revisions begins at its own number.
FIRST_REVISION = {"MP38": 3}


@dataclass(frozen=True, slots=True)
class DemoAttempt:
    """One attempt: the day counted from the day of loading (negative), its revision, outcome and cause."""

    day: int
    revision: int
    outcome: str
    cause: str


def spread_attempts(parts: Sequence[Mapping[str, Any]]) -> dict[str, list[DemoAttempt]]:
    """The attempts of every part, spread evenly over the days in the order of the parts."""
    total = sum(part["attempts"] for part in parts)
    causes = _interleaved_causes()
    spread: dict[str, list[DemoAttempt]] = {}
    place = 0
    for part in parts:
        revisions = _revisions(part)
        good = _good_places(part, revisions)
        rows = []
        for index, revision in enumerate(revisions):
            day = FIRST_DAY + round(place * (LAST_DAY - FIRST_DAY) / (total - 1))
            is_good = index in good
            cause = "" if is_good else next(causes)
            outcome = "good" if is_good else ("stopped" if cause == "bed or corner lift" else "failed")
            rows.append(DemoAttempt(day, revision, outcome, cause))
            place += 1
        spread[part["id"]] = rows
    return spread


def _interleaved_causes() -> Any:
    """Every cause as often as listed, mixed evenly rather than one after the other."""
    places = [((i + 0.5) / number, cause) for cause, number in CAUSES for i in range(number)]
    return iter([cause for _, cause in sorted(places)])


def _revisions(part: Mapping[str, Any]) -> list[int]:
    first = FIRST_REVISION.get(part["id"], 1)
    number = part["revision"] - first + 1
    return [first + i * number // part["attempts"] for i in range(part["attempts"])]


def _good_places(part: Mapping[str, Any], revisions: Sequence[int]) -> set[int]:
    """The last attempt of the installed and of the newest revision came out good, then those before the last."""
    installed = part["installed"].removeprefix("r")
    wanted = []
    if installed.isdigit() and int(installed) in revisions:
        wanted.append(len(revisions) - 1 - revisions[::-1].index(int(installed)))
    wanted += range(len(revisions) - 1, -1, -1)
    return set(list(dict.fromkeys(wanted))[: part["good"]])
