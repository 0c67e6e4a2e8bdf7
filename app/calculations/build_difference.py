"""What grew between two builds of one program, and by how much: part by part, with totals that balance."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

_COUNTED_NAME = re.compile(r"(.+?)\.\d+")


@dataclass(frozen=True, slots=True)
class BuildPart:
    """A part of a build: a symbol in its section, a file in its library, or whatever the caller compares by."""

    name: str
    size_bytes: int
    group: str = ""


@dataclass(frozen=True, slots=True)
class PartChange:
    """One part in both builds; a size is None in the build that does not have it.

    `name_before` differs from `name` only where a compiler's running number at the end of it changed.
    """

    name: str
    group: str
    before_bytes: int | None
    after_bytes: int | None
    name_before: str

    @property
    def change_bytes(self) -> int:
        """Bytes more than before; less than 0 where it takes less."""
        return (self.after_bytes or 0) - (self.before_bytes or 0)


@dataclass(frozen=True, slots=True)
class BuildDifference:
    """Everything that differs between two builds, largest change first in each list."""

    before_bytes: int
    after_bytes: int
    grew: tuple[PartChange, ...]
    shrank: tuple[PartChange, ...]
    new: tuple[PartChange, ...]
    gone: tuple[PartChange, ...]

    @property
    def change_bytes(self) -> int:
        """Bytes more than before in all."""
        return self.after_bytes - self.before_bytes

    @property
    def grew_bytes(self) -> int:
        """Sum of what grew, 0 or more."""
        return sum(change.change_bytes for change in self.grew)

    @property
    def shrank_bytes(self) -> int:
        """Sum of what shrank, 0 or less."""
        return sum(change.change_bytes for change in self.shrank)

    @property
    def new_bytes(self) -> int:
        """Sum of what is new, 0 or more."""
        return sum(change.change_bytes for change in self.new)

    @property
    def gone_bytes(self) -> int:
        """Sum of what is gone, 0 or less."""
        return sum(change.change_bytes for change in self.gone)


_Key = tuple[str, str]


def _sizes(parts: Iterable[BuildPart]) -> dict[_Key, int]:
    """Return the size of each group and name, parts alike in both added up."""
    sizes: dict[_Key, int] = {}
    for part in parts:
        if part.size_bytes < 0:
            raise ValueError(f"size of {part.name} must be 0 or more bytes, got {part.size_bytes}")
        if part.size_bytes:
            key = (part.group, part.name)
            sizes[key] = sizes.get(key, 0) + part.size_bytes
    return sizes


def _by_plain_name(keys: Iterable[_Key]) -> dict[_Key, list[_Key]]:
    """Return keys by their name without the running number at its end."""
    plain: dict[_Key, list[_Key]] = {}
    for group, name in keys:
        counted = _COUNTED_NAME.fullmatch(name)
        plain.setdefault((group, counted[1] if counted else name), []).append((group, name))
    return plain


def _renumbered(before: Mapping[_Key, int], after: Mapping[_Key, int]) -> dict[_Key, _Key]:
    """Return, for parts whose running number changed, the old key of the new one."""
    gone = _by_plain_name(before.keys() - after.keys())
    new = _by_plain_name(after.keys() - before.keys())
    return {
        new[plain][0]: keys[0]
        for plain, keys in gone.items()
        if len(keys) == 1 and len(new.get(plain, ())) == 1
    }


def build_difference(before: Iterable[BuildPart], after: Iterable[BuildPart]) -> BuildDifference:
    """Compare two builds part by part.

    Args:
        before: Parts of the earlier build, sizes in bytes, 0 or more.
        after: Parts of the later build, named and grouped in the same way.

    Returns:
        What grew, shrank, is new and is gone. The four sums add up to the change of the whole, which is the
        change of the section totals where the parts cover the sections, the part not named among them.

    Raises:
        ValueError: a size is less than 0.

    Holds for parts alike in group and name being one part: those alike within a build are added up. A name
    that ends in a full stop and a number got that from the compiler ("buffer.1482"): where exactly one such
    name is gone and one of the same start and group is new, they are one part. A part that was given another
    name is one gone and one new.

    Source: arithmetic; that compilers number the names that functions keep to themselves is common practice
    (GCC).

    Example:
        >>> told = build_difference([BuildPart("a", 10), BuildPart("b", 4)], [BuildPart("a", 25)])
        >>> told.change_bytes, told.grew[0].change_bytes, told.gone[0].change_bytes
        (11, 15, -4)
    """
    sizes_before, sizes_after = _sizes(before), _sizes(after)
    earlier = _renumbered(sizes_before, sizes_after)
    changes = [
        PartChange(name, group, sizes_before.get(key_before), size, key_before[1])
        for (group, name), size in sizes_after.items()
        for key_before in (earlier.get((group, name), (group, name)),)
    ]
    paired = {earlier.get(key, key) for key in sizes_after}
    changes += [
        PartChange(name, group, size, None, name)
        for (group, name), size in sizes_before.items()
        if (group, name) not in paired
    ]
    changes.sort(key=lambda change: (-abs(change.change_bytes), change.group, change.name))
    both = [
        change for change in changes if change.before_bytes is not None and change.after_bytes is not None
    ]
    return BuildDifference(
        before_bytes=sum(sizes_before.values()),
        after_bytes=sum(sizes_after.values()),
        grew=tuple(change for change in both if change.change_bytes > 0),
        shrank=tuple(change for change in both if change.change_bytes < 0),
        new=tuple(change for change in changes if change.before_bytes is None),
        gone=tuple(change for change in changes if change.after_bytes is None),
    )
