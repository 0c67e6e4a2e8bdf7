"""The rows and the rectangles of a build's breakdown: the largest names, the smaller ones taken together."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from app.calculations.firmware_breakdown import NO_FILE, NO_LIBRARY, Breakdown, BreakdownNode
from app.calculations.treemap import TreeRectangle, tree_rectangles

NAMES_SHOWN = 200
LARGEST_SHOWN = 8
WIDE = (900.0, 420.0)
TALL = (350.0, 520.0)

_SMALLER = {"symbol": "smaller names", "file": "smaller files", "library": "smaller libraries"}


@dataclass(frozen=True, slots=True)
class BreakdownRow:
    """A library, file or name with its bytes and its share of the store.

    `place` numbers the rows from the top, the whole being 0. `kind` is as a node's, or "rest" for those taken
    together. `group` numbers the files, and what stands beside them in none. `within` names the library and
    file, `also` holds other names for the very same bytes.
    """

    place: int
    group: int
    name: str
    kind: str
    size_bytes: int
    share: float
    within: tuple[str, ...]
    also: tuple[str, ...]
    rows: tuple["BreakdownRow", ...]


@dataclass(frozen=True, slots=True)
class PlacedRow:
    """A row with its rectangle."""

    row: BreakdownRow
    part: TreeRectangle


@dataclass(frozen=True, slots=True)
class StoreBreakdown:
    """One store of a build: all its leaves, and the largest of them as rows and as rectangles."""

    breakdown: Breakdown
    root: BreakdownRow
    largest: tuple[BreakdownRow, ...]
    names: int
    wide: tuple[PlacedRow, ...]
    tall: tuple[PlacedRow, ...]


def store_breakdown(breakdown: Breakdown) -> StoreBreakdown:
    """A breakdown with its rows and with rectangles for a wide and for a tall drawing."""
    leaves = sorted(_leaves(breakdown.root), key=lambda leaf: -leaf.size_bytes)
    also = {
        (leaf.library or NO_LIBRARY, leaf.file or NO_FILE, leaf.name): leaf.also
        for leaf in breakdown.leaves
        if leaf.also
    }
    rows = _Rows({id(leaf) for leaf in leaves[:NAMES_SHOWN]}, also, breakdown.size_bytes)
    few, root = rows.take(breakdown.root, ())
    names = sorted(
        (row for row in rows.by_node.values() if row.kind == "symbol"),
        key=lambda row: (-row.size_bytes, row.name),
    )
    return StoreBreakdown(
        breakdown=breakdown,
        root=root,
        largest=tuple(names[:LARGEST_SHOWN]),
        names=sum(1 for leaf in leaves if leaf.kind == "symbol"),
        wide=rows.placed(few, *WIDE),
        tall=rows.placed(few, *TALL),
    )


class _Rows:
    """Rows as they are numbered, found again by the node of the smaller tree that each stands for."""

    def __init__(
        self, kept: set[int], also: Mapping[tuple[str, str, str], tuple[str, ...]], total_bytes: int
    ) -> None:
        self.kept = kept
        self.also = also
        self.total_bytes = total_bytes or 1
        self.by_node: dict[int, BreakdownRow] = {}
        self.places = 0
        self.group = -1

    def take(self, node: BreakdownNode, within: tuple[str, ...]) -> tuple[BreakdownNode, BreakdownRow]:
        """A node with only the leaves kept below it, and its row."""
        place = self._next_place()
        self.group += node.kind == "file" or (not within and not node.children)
        group = self.group
        inside = (*within, node.name) if place else ()
        shown = [child for child in node.children if self._holds_any(child)]
        rest = [child for child in node.children if not self._holds_any(child)]
        if len(rest) == 1:
            shown, rest = list(node.children), []
        parts = [self.take(child, inside) for child in shown]
        if rest:
            words = f"{len(rest)} {_SMALLER.get(rest[0].kind, 'smaller parts')}"
            together = BreakdownNode(words, "symbol", sum(child.size_bytes for child in rest))
            parts.append((together, self._row(together, self._next_place(), group, inside, (), "rest")))
        few = BreakdownNode(node.name, node.kind, node.size_bytes, tuple(child for child, _ in parts))
        return few, self._row(few, place, group, within, tuple(row for _, row in parts), node.kind)

    def placed(self, few: BreakdownNode, width: float, height: float) -> tuple[PlacedRow, ...]:
        """The rows below the whole, each with its rectangle, every one before those inside it."""
        return tuple(
            PlacedRow(self.by_node[id(part.node)], part)
            for part in tree_rectangles(few, width, height)
            if part.depth
        )

    def _row(
        self,
        node: BreakdownNode,
        place: int,
        group: int,
        within: tuple[str, ...],
        rows: tuple[BreakdownRow, ...],
        kind: str,
    ) -> BreakdownRow:
        library, file = (NO_LIBRARY, *within)[-2:] if within else (NO_LIBRARY, NO_FILE)
        row = BreakdownRow(
            place=place,
            group=group,
            name=node.name,
            kind=kind,
            size_bytes=node.size_bytes,
            share=node.size_bytes / self.total_bytes,
            within=within,
            also=self.also.get((library, file, node.name), ()) if kind == "symbol" else (),
            rows=rows,
        )
        self.by_node[id(node)] = row
        return row

    def _next_place(self) -> int:
        self.places += 1
        return self.places - 1

    def _holds_any(self, node: BreakdownNode) -> bool:
        return any(id(leaf) in self.kept for leaf in _leaves(node))


def _leaves(node: BreakdownNode) -> Iterator[BreakdownNode]:
    if not node.children:
        yield node
    for child in node.children:
        yield from _leaves(child)
