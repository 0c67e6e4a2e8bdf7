"""What takes the room in a program: every byte of its sections under a library, a file and a name."""

import heapq
import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

Store = Literal["program", "memory", "eeprom"]
NodeKind = Literal["program", "library", "file", "symbol", "not named"]

NOT_NAMED = "not named"
"""Name of the part that neither a symbol nor the map names."""

NO_LIBRARY = "in no library"
"""Name for the objects that were given to the linker one by one."""

NO_FILE = "file not told"
"""Name for symbols whose source file the program file does not tell."""

_MADE_UP = re.compile(r"cc\w{6}(\.ltrans\d+\.ltrans)?\.o")
"""Names that compilers give to objects kept only for the moment (seen in maps of avr-gcc 5.4)."""

_STORES_OF: dict[str, tuple[Store, ...]] = {
    "program": ("program",),
    "memory": ("memory",),
    "both": ("program", "memory"),
    "eeprom": ("eeprom",),
    "other": (),
}


@dataclass(frozen=True, slots=True)
class SectionStretch:
    """A section of the program: its run address, its size and the store it takes, as the reader says it."""

    name: str
    address: int
    size_bytes: int
    where: str


@dataclass(frozen=True, slots=True)
class SymbolStretch:
    """A function or variable with a size; its source file where the program file tells it."""

    name: str
    address: int
    size_bytes: int
    source_file: str = ""


@dataclass(frozen=True, slots=True)
class ObjectStretch:
    """What one object file gave to a section, from the linker map; `file` is "" for the linker's own."""

    section: str
    address: int
    size_bytes: int
    library: str
    file: str


@dataclass(frozen=True, slots=True)
class BreakdownLeaf:
    """Bytes of one section with one name; `also` holds other names for the very same bytes."""

    name: str
    section: str
    library: str
    file: str
    size_bytes: int
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BreakdownNode:
    """A part of the program and the parts it is made of, largest first."""

    name: str
    kind: NodeKind
    size_bytes: int
    children: tuple["BreakdownNode", ...] = ()


@dataclass(frozen=True, slots=True)
class Breakdown:
    """A whole store broken down; sizes of the sections and of the leaves add up to the same."""

    store: Store
    root: BreakdownNode
    leaves: tuple[BreakdownLeaf, ...]
    sections: tuple[tuple[str, int], ...]

    @property
    def size_bytes(self) -> int:
        """All bytes of the store."""
        return self.root.size_bytes

    @property
    def not_named_bytes(self) -> int:
        """Bytes that no symbol names, whether or not the map tells their file."""
        return sum(leaf.size_bytes for leaf in self.leaves if leaf.name == NOT_NAMED)


@dataclass(frozen=True, slots=True)
class _Cover:
    """A stretch as the sweep sees it: where it begins and ends, and its place in the list it came from."""

    start: int
    end: int
    index: int


def _pieces(start: int, end: int, covers: Sequence[_Cover]) -> list[tuple[int, int, int | None]]:
    """Cut a section into pieces, each of the stretch that begins last at or before it, or of none.

    Of stretches that begin together the shortest owns the piece, of equal ones the first.
    """
    cuts = {start, end}
    for cover in covers:
        cuts.update((max(cover.start, start), min(cover.end, end)))
    coming = sorted(covers, key=lambda cover: cover.start)
    open_now: list[tuple[int, int, int]] = []
    pieces: list[tuple[int, int, int | None]] = []
    following = 0
    for at, until in pairwise(sorted(cuts)):
        while following < len(coming) and coming[following].start <= at:
            cover = coming[following]
            heapq.heappush(open_now, (-cover.start, cover.end, cover.index))
            following += 1
        while open_now and open_now[0][1] <= at:
            heapq.heappop(open_now)
        pieces.append((at, until, open_now[0][2] if open_now else None))
    return pieces


def _joined(
    named: Iterable[tuple[int, int, int | None]], placed: Sequence[tuple[int, int, int | None]]
) -> Iterable[tuple[int, int | None, int | None]]:
    """Lay two cuts of one section over each other: sizes with the owner in the first and in the second."""
    at = 0
    for start, end, name in named:
        while start < end:
            while placed[at][1] <= start:
                at += 1
            until = min(end, placed[at][1])
            yield until - start, name, placed[at][2]
            start = until


def _source_names(
    objects: Sequence[ObjectStretch], seen: dict[tuple[str, str], set[str]]
) -> dict[tuple[str, str], str]:
    """Return a source file's name for each object whose own name a compiler made up for the moment."""
    made_up = {(row.library, row.file) for row in objects if _MADE_UP.fullmatch(row.file)}
    return {key: next(iter(files)) for key in made_up if len(files := seen.get(key, set())) == 1}


def _node(name: str, kind: NodeKind, children: Iterable[BreakdownNode]) -> BreakdownNode:
    ordered = tuple(sorted(children, key=lambda child: (-child.size_bytes, child.name)))
    return BreakdownNode(name, kind, sum(child.size_bytes for child in ordered), ordered)


def _named_children(leaves: Iterable[BreakdownLeaf]) -> list[BreakdownNode]:
    """One node for each named leaf and a single one for all that is not named."""
    children = []
    not_named = 0
    for leaf in leaves:
        if leaf.name == NOT_NAMED:
            not_named += leaf.size_bytes
        else:
            children.append(BreakdownNode(leaf.name, "symbol", leaf.size_bytes))
    if not_named:
        children.append(BreakdownNode(NOT_NAMED, "not named", not_named))
    return children


def _tree(name: str, leaves: Iterable[BreakdownLeaf], *, by_library: bool) -> BreakdownNode:
    libraries: dict[str, dict[str, list[BreakdownLeaf]]] = {}
    loose: list[BreakdownLeaf] = []
    for leaf in leaves:
        if leaf.name == NOT_NAMED and not leaf.file:
            loose.append(leaf)
        else:
            files = libraries.setdefault(leaf.library or NO_LIBRARY, {})
            files.setdefault(leaf.file or NO_FILE, []).append(leaf)
    nodes = [
        (library, [_node(file, "file", _named_children(held)) for file, held in files.items()])
        for library, files in libraries.items()
    ]
    if by_library:
        children = [_node(library, "library", files) for library, files in nodes]
    else:
        children = [file for _, files in nodes for file in files]
    return _node(name, "program", [*children, *_named_children(loose)])


def firmware_breakdown(
    sections: Sequence[SectionStretch],
    symbols: Sequence[SymbolStretch],
    objects: Sequence[ObjectStretch] = (),
    *,
    store: Store,
    name: str = "program",
) -> Breakdown:
    """Break one store of a program down by library, source file and symbol, with nothing left over.

    Args:
        sections: Sections that the chip keeps, with run address, size in bytes and the store each takes:
            "both" counts in program and in memory.
        symbols: Names with address and size in bytes, in any order.
        objects: Rows of the linker map of this very build; none where there is no map.
        store: The store to break down.
        name: What the whole is called.

    Returns:
        The tree: library, file, symbol with a map; file, symbol without one, where only names that a file
        keeps to itself have a file. Bytes that no symbol covers are "not named": under their file where the
        map tells it, beside the libraries or files otherwise. The sizes of the leaves add up to the sizes of
        the store's sections, always.

    Raises:
        ValueError: a section's address or size is negative.

    Holds where no two of the sections share an address. A stretch counts to the section it begins in (a row
    of a map to the section it names) and is cut at the section's end. Each byte counts once, to the symbol
    that begins last at or before it; of those that begin together to the shortest, of equal ones to the
    first by name, the others then standing in `also`. So a name inside a longer one, or over its end, takes
    those bytes from it, and the longer one has fewer than the symbol table says. An object whose name a
    compiler made up for the moment takes the name of its symbols' source file where they tell just one.

    Source: arithmetic on the tables that compiler and linker write; no figure is assumed.

    Example:
        >>> text = SectionStretch(".text", 0, 100, "program")
        >>> main = SymbolStretch("main", 0, 60)
        >>> [(part.name, part.size_bytes) for part in firmware_breakdown([text], [main], store="program").leaves]
        [('main', 60), ('not named', 40)]
    """
    wrong = [section.name for section in sections if section.address < 0 or section.size_bytes < 0]
    if wrong:
        raise ValueError(f"address and size must be 0 or more in every section: {', '.join(wrong)}")
    in_order = sorted((section for section in sections if section.size_bytes), key=lambda each: each.address)
    ordered = sorted(symbols, key=lambda symbol: symbol.name)
    rows_of: dict[str, list[_Cover]] = {}
    for index, row in enumerate(objects):
        rows_of.setdefault(row.section, []).append(_Cover(row.address, row.address + row.size_bytes, index))
    kept: list[SectionStretch] = []
    sizes: dict[tuple[str, int | None, tuple[str, str] | None], int] = {}
    seen: dict[tuple[str, str], set[str]] = {}
    for section, covers in zip(in_order, _covers_by_address(in_order, ordered), strict=True):
        start, end = section.address, section.address + section.size_bytes
        rows = [row for row in rows_of.get(section.name, ()) if row.start < end and row.end > start]
        counts = store in _STORES_OF.get(section.where, ())
        if counts:
            kept.append(section)
        for size, symbol_at, row_at in _joined(_pieces(start, end, covers), _pieces(start, end, rows)):
            place = None if row_at is None else (objects[row_at].library, objects[row_at].file)
            if place is not None and symbol_at is not None and ordered[symbol_at].source_file:
                seen.setdefault(place, set()).add(ordered[symbol_at].source_file)
            if counts:
                key = (section.name, symbol_at, place)
                sizes[key] = sizes.get(key, 0) + size
    called = _source_names(objects, seen)
    also = _other_names(ordered)
    leaves = []
    for (section_name, symbol_at, place), size in sizes.items():
        symbol = None if symbol_at is None else ordered[symbol_at]
        library, file = place or ("", symbol.source_file if symbol else "")
        leaves.append(
            BreakdownLeaf(
                name=symbol.name if symbol else NOT_NAMED,
                section=section_name,
                library=library,
                file=called.get(place, file) if place else file,
                size_bytes=size,
                also=also.get((symbol.address, symbol.size_bytes), ())[1:] if symbol else (),
            )
        )
    leaves.sort(key=lambda leaf: (-leaf.size_bytes, leaf.name, leaf.section, leaf.library, leaf.file))
    return Breakdown(
        store=store,
        root=_tree(name, leaves, by_library=bool(objects)),
        leaves=tuple(leaves),
        sections=tuple((section.name, section.size_bytes) for section in kept),
    )


def _covers_by_address(
    sections: Sequence[SectionStretch], symbols: Sequence[SymbolStretch]
) -> list[list[_Cover]]:
    """Return, for each section in order of address, the symbols that begin in it, cut at its end."""
    covers: list[list[_Cover]] = [[] for _ in sections]
    starts = [section.address for section in sections]
    for index, symbol in enumerate(symbols):
        at = bisect_right(starts, symbol.address) - 1
        if at < 0 or symbol.size_bytes <= 0:
            continue
        end = sections[at].address + sections[at].size_bytes
        if symbol.address < end:
            covers[at].append(_Cover(symbol.address, min(symbol.address + symbol.size_bytes, end), index))
    return covers


def _other_names(symbols: Iterable[SymbolStretch]) -> dict[tuple[int, int], tuple[str, ...]]:
    """Return the names of each stretch that has more than one, in the order of the symbols."""
    names: dict[tuple[int, int], list[str]] = {}
    for symbol in symbols:
        names.setdefault((symbol.address, symbol.size_bytes), []).append(symbol.name)
    return {key: tuple(alike) for key, alike in names.items() if len(alike) > 1}
