"""A list of moves, as the calculation of print hours wants it."""

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Moves(Protocol):
    """What is asked of a list of moves, one place a move in each array; a reader's result has these names."""

    @property
    def x_mm(self) -> Floats: ...  # noqa: D102 - MoveTable says what each is
    @property
    def y_mm(self) -> Floats: ...  # noqa: D102
    @property
    def z_mm(self) -> Floats: ...  # noqa: D102
    @property
    def e_mm(self) -> Floats: ...  # noqa: D102
    @property
    def speed_mm_s(self) -> Floats: ...  # noqa: D102
    @property
    def acceleration_mm_s2(self) -> Floats: ...  # noqa: D102
    @property
    def arc_row(self) -> Ints: ...  # noqa: D102
    @property
    def arc_length_mm(self) -> Floats: ...  # noqa: D102
    @property
    def arc_radius_mm(self) -> Floats: ...  # noqa: D102
    @property
    def arc_start(self) -> Floats: ...  # noqa: D102
    @property
    def arc_end(self) -> Floats: ...  # noqa: D102
    @property
    def rest_row(self) -> Ints: ...  # noqa: D102
    @property
    def rest_s(self) -> Floats: ...  # noqa: D102


def _no_floats() -> Floats:
    return np.empty(0)


def _no_ints() -> Ints:
    return np.empty(0, np.int64)


def _no_directions() -> Floats:
    return np.empty((0, 3))


@dataclass(frozen=True, slots=True, eq=False)
class MoveTable:
    """A list of moves given by hand.

    Attributes:
        x_mm: way along x in mm, signed; of an arc, from its start to its end. y_mm, z_mm likewise.
        e_mm: filament pushed in mm (pulled back: negative).
        speed_mm_s: speed asked for, above 0; may be infinite.
        acceleration_mm_s2: acceleration asked for; nan: the printer's own.
        arc_row: which moves are arcs, rising. arc_length_mm, arc_radius_mm: of each.
        arc_start: unit direction (x, y, z) at the start of each arc; arc_end: at its end.
        rest_row: motion comes to rest before this move (the number of moves: after the last); rest_s: for how long.
    """

    x_mm: Floats
    y_mm: Floats
    z_mm: Floats
    e_mm: Floats
    speed_mm_s: Floats
    acceleration_mm_s2: Floats
    arc_row: Ints = field(default_factory=_no_ints)
    arc_length_mm: Floats = field(default_factory=_no_floats)
    arc_radius_mm: Floats = field(default_factory=_no_floats)
    arc_start: Floats = field(default_factory=_no_directions)
    arc_end: Floats = field(default_factory=_no_directions)
    rest_row: Ints = field(default_factory=_no_ints)
    rest_s: Floats = field(default_factory=_no_floats)
