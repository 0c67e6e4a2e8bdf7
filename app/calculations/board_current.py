"""Board current: what pins sink and source, each, by group and for the whole chip, against its limits."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.calculations.verdict import verdict_of

SCOPES = ("pin", "group", "chip")
DIRECTIONS = ("sink", "source")
HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class CurrentPath:
    """A current through pins: out of `source_pin`, into `sink_pin`, or out of one and into the other.

    A light to ground has a source pin, one to the supply a sink pin, a coil between two pins has both and
    `is_reversible`. The current is in mA, None where not known.
    """

    name: str
    current_ma: float | None
    source_pin: str = ""
    sink_pin: str = ""
    is_reversible: bool = False


@dataclass(frozen=True, slots=True)
class PinLimit:
    """A limit in mA on each pin, a group of pins together or all pins of a chip together.

    `direction` is sink, source or either: either holds for each of the two by itself. No pins means every pin
    (scope pin) or all of them (scope chip). Over an absolute limit parts are harmed; over another the level on
    the pin is no longer kept.
    """

    scope: str
    direction: str
    limit_ma: float
    pins: tuple[str, ...] = ()
    is_absolute: bool = True
    name: str = ""


@dataclass(frozen=True, slots=True)
class LimitLoad:
    """The load on one limit, in one direction; `pin` is empty but for a limit on each pin."""

    limit: PinLimit
    pin: str
    direction: str
    load_ma: float
    share: float
    paths: tuple[str, ...]
    missing: tuple[str, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class BoardCurrent:
    """The load on every limit that carries anything, and the one nearest to its limit or furthest over."""

    loads: tuple[LimitLoad, ...]
    worst: LimitLoad | None
    missing: tuple[str, ...]
    verdict: str


def board_current(paths: Sequence[CurrentPath], limits: Iterable[PinLimit]) -> BoardCurrent:
    """What the pins of a chip carry against its limits, sinking and sourcing apart.

    Args:
        paths: currents through pins that can flow at the same time, each 0 or more mA.
        limits: limits of the chip, each over 0 mA.

    Returns:
        For every limit and direction the sum of the currents it covers, and the load as a share of it. Over an
        absolute limit is a stop, over another a caution, exactly at it is within; a missing current makes it
        cannot tell, unless the known ones already say worse. Without limits it is cannot tell, unless nothing
        flows.

    Raises:
        ValueError: a path has no pin or goes from a pin to itself, a word is unknown, or a figure is out of its
            range.

    Where it holds: for steady currents, all at once. A coil between two pins counts once in a sum whichever way
        it flows: one of its ends sinks while the other sources.
    Source: Kirchhoff's current law; the limits of a chip from its data sheet, handed in.

    Example:
        >>> lights = [CurrentPath(f"light {k}", 20, sink_pin=f"D{k}") for k in range(6)]
        >>> group = PinLimit("group", "sink", 100, ("D0", "D1", "D2", "D3", "D4"))
        >>> found = board_current(lights, [group])
        >>> found.worst.load_ma, found.verdict
        (100.0, 'fine')
    """
    kept_limits = list(limits)
    _check(paths, kept_limits)
    pins = list(dict.fromkeys(pin for path in paths for pin in (path.source_pin, path.sink_pin) if pin))
    loads = [
        load
        for limit in kept_limits
        for direction in DIRECTIONS
        if limit.direction in (direction, "either")
        for pin in (
            ([p for p in pins if p in limit.pins or not limit.pins]) if limit.scope == "pin" else [""]
        )
        if (load := _load(paths, limit, direction, pin)).paths
    ]
    missing = tuple(path.name for path in paths if path.current_ma is None)
    verdicts = [load.verdict for load in loads]
    return BoardCurrent(
        loads=tuple(loads),
        worst=max(loads, key=lambda load: load.share, default=None),
        missing=missing,
        verdict=verdict_of(
            is_stop="stop" in verdicts,
            is_caution="caution" in verdicts,
            is_complete=not missing and (bool(kept_limits) or not paths),
        ),
    )


def _load(paths: Sequence[CurrentPath], limit: PinLimit, direction: str, pin: str) -> LimitLoad:
    covered = [path for path in paths if _is_covered(path, limit, direction, pin)]
    load_ma = math.fsum(path.current_ma for path in covered if path.current_ma is not None)
    is_over = load_ma > limit.limit_ma * (1 + HAIR)
    missing = tuple(path.name for path in covered if path.current_ma is None)
    return LimitLoad(
        limit=limit,
        pin=pin,
        direction=direction,
        load_ma=load_ma,
        share=load_ma / limit.limit_ma,
        paths=tuple(path.name for path in covered),
        missing=missing,
        verdict=verdict_of(
            is_stop=is_over and limit.is_absolute, is_caution=is_over, is_complete=not missing
        ),
    )


def _is_covered(path: CurrentPath, limit: PinLimit, direction: str, pin: str) -> bool:
    """Whether a path can load a limit in a direction."""
    ends = {path.sink_pin if direction == "sink" else path.source_pin}
    if path.is_reversible:
        ends = {path.sink_pin, path.source_pin}
    ends.discard("")
    if pin:
        return pin in ends
    return bool(ends) if not limit.pins else bool(ends.intersection(limit.pins))


def _check(paths: Sequence[CurrentPath], limits: Sequence[PinLimit]) -> None:
    for path in paths:
        if path.current_ma is not None and not 0 <= path.current_ma < math.inf:
            raise ValueError(f"{path.name}: {path.current_ma} mA must not be negative")
        if path.source_pin == path.sink_pin:
            raise ValueError(f"{path.name}: out of {path.source_pin!r} into {path.sink_pin!r} is no path")
    for limit in limits:
        if limit.scope not in SCOPES or limit.direction not in (*DIRECTIONS, "either"):
            raise ValueError(f"limit {limit.name!r}: scope {limit.scope!r}, direction {limit.direction!r}")
        if not 0 < limit.limit_ma < math.inf or (limit.scope == "group" and not limit.pins):
            raise ValueError(f"limit {limit.name!r}: {limit.limit_ma} mA over 0, a group with its pins")
