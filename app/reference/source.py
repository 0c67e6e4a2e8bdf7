"""Sources of the published figures: each data row names one by its key."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

MARKS = ("assumed", "copied", "listed", "measured")
"""Source marks, weakest first."""

SEEN = ("read", "installed", "computed", "from memory", "common practice", "ours")
"""How a source was seen: read in a copy, read from an installed package or file, computed, and so on."""


class UnknownSource(ValueError):
    """A row names a source that the table does not have."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure comes from: a document with its edition, the place in it, and how it was seen."""

    key: str
    title: str
    place: str
    seen: str


@cache
def sources() -> Mapping[str, Source]:
    """Every source by its key."""
    with files(__package__).joinpath("sources.toml").open("rb") as file:
        rows = tomllib.load(file)
    table = {key: Source(key=key, **row) for key, row in rows.items()}
    for row in table.values():
        if row.seen not in SEEN:
            raise UnknownSource(
                f"source {row.key!r} is marked seen {row.seen!r}, not one of {', '.join(SEEN)}"
            )
    return MappingProxyType(table)


def source(key: str) -> Source:
    """The source with this key.

    Raises:
        UnknownSource: the table has no such key.

    Example:
        >>> source("atmega328p-data-sheet").seen
        'read'
    """
    try:
        return sources()[key]
    except KeyError:
        raise UnknownSource(f"no source {key!r} in sources.toml") from None
