"""Memory and program budgets of a board: what its parts take against what the chip has."""

from collections.abc import Iterable
from dataclasses import dataclass

from app.calculations.source_mark import weakest
from app.calculations.verdict import verdict_of


@dataclass(frozen=True, slots=True)
class MemoryClaim:
    """Bytes that something takes of a board, None where not known; claims alike in `once_as` count once."""

    name: str
    size_bytes: int | None
    count: int = 1
    mark: str = "assumed"
    once_as: str = ""

    @property
    def total_bytes(self) -> int:
        """All pieces of this claim together; 0 where not known."""
        return (self.size_bytes or 0) * self.count


@dataclass(frozen=True, slots=True)
class MemoryBudget:
    """Static memory of a board against its chip; shares are of the chip's memory, 1 = all of it."""

    static_bytes: int
    stack_reserve_bytes: int
    memory_bytes: int | None
    left_bytes: int | None
    static_share: float | None
    total_share: float | None
    counted: tuple[MemoryClaim, ...]
    missing: tuple[str, ...]
    verdict: str
    mark: str | None


@dataclass(frozen=True, slots=True)
class ProgramBudget:
    """Program bytes of a board against the room its boot loader leaves; 1 = all of it."""

    used_bytes: int
    room_bytes: int | None
    share: float | None
    counted: tuple[MemoryClaim, ...]
    missing: tuple[str, ...]
    verdict: str
    mark: str | None


def memory_budget(
    claims: Iterable[MemoryClaim],
    memory_bytes: int | None,
    *,
    stack_reserve_bytes: int = 300,
    memory_mark: str = "listed",
    warn_share: float = 0.75,
    fail_share: float = 0.90,
) -> MemoryBudget:
    """Static memory that a board's parts take, against the memory of its chip.

    Args:
        claims: display buffers, pixels (3 bytes each), libraries, tables, the base program: bytes and pieces,
            0 or more; claims with the same `once_as` are counted once a board, the largest of them.
        memory_bytes: memory of the chip as a program may use it, over 0; None where not known.
        stack_reserve_bytes: kept free for the stack, 0 or more.
        memory_mark: the source mark of `memory_bytes`.
        warn_share: share of the memory above which static memory is a caution.
        fail_share: share above which it is a stop.

    Returns:
        Static bytes, what is left after the stack reserve (negative when short), the shares, what was counted
        and whose bytes are missing. Stop above `fail_share`, or where static memory and stack reserve are more
        than there is; caution above `warn_share`; a missing figure makes it cannot tell, unless the known ones
        already say worse.

    Raises:
        ValueError: a size, a count or a share is out of its range.

    Where it holds: memory fixed while the program runs, that claimed at start by a display library included;
        nothing is known of memory that a program claims later.
    Source: common practice: 300 bytes of stack at least on small parts, warn at 75 %, fail at 90 %. Static
        memory is a lower bound, stack and heap come on top.

    Example:
        >>> found = memory_budget([MemoryClaim("display buffer", 1024, 2)], 2048)
        >>> found.static_bytes, found.static_share, found.verdict
        (2048, 1.0, 'stop')
    """
    if memory_bytes is not None and memory_bytes <= 0:
        raise ValueError(f"memory_bytes {memory_bytes} must be over 0")
    if stack_reserve_bytes < 0 or not 0 < warn_share <= fail_share <= 1:
        raise ValueError(f"stack_reserve_bytes {stack_reserve_bytes}, shares {warn_share} and {fail_share}")
    counted = _counted_once(claims)
    static = sum(claim.total_bytes for claim in counted)
    total = static + stack_reserve_bytes
    missing = tuple(claim.name for claim in counted if claim.size_bytes is None)
    is_stop = memory_bytes is not None and (static > memory_bytes * fail_share or total > memory_bytes)
    is_caution = memory_bytes is not None and static > memory_bytes * warn_share
    return MemoryBudget(
        static_bytes=static,
        stack_reserve_bytes=stack_reserve_bytes,
        memory_bytes=memory_bytes,
        left_bytes=None if memory_bytes is None else memory_bytes - total,
        static_share=None if memory_bytes is None else static / memory_bytes,
        total_share=None if memory_bytes is None else total / memory_bytes,
        counted=counted,
        missing=missing,
        verdict=verdict_of(
            is_stop=is_stop, is_caution=is_caution, is_complete=memory_bytes is not None and not missing
        ),
        mark=_mark_of(counted, memory_bytes, memory_mark),
    )


def program_budget(
    claims: Iterable[MemoryClaim],
    program_bytes: int | None,
    *,
    boot_loader_bytes: int = 0,
    program_mark: str = "listed",
    allowed_share: float = 0.85,
) -> ProgramBudget:
    """Program space that a board's libraries take, against its chip less the boot loader.

    Args:
        claims: the base program, libraries and fonts: bytes, 0 or more; each library is counted once.
        program_bytes: program memory of the chip, over 0; None where not known.
        boot_loader_bytes: taken off by the boot loader, 0 or more and less than `program_bytes`.
        program_mark: the source mark of `program_bytes`.
        allowed_share: share of the room that may be used, over 0 and at most 1.

    Returns:
        Bytes used, the room and the share of it, what was counted and whose bytes are missing. Stop above the
        room, caution above `allowed_share` of it; a missing figure makes it cannot tell, unless the known ones
        already say worse.

    Raises:
        ValueError: a size, a count or the share is out of its range.

    Where it holds: an estimate before the first build; a measured build is a single claim marked measured.
    Source: common practice: at most 85 %, so that a late change still fits.

    Example:
        >>> found = program_budget([MemoryClaim("base", 3000)], 32768, boot_loader_bytes=512)
        >>> found.room_bytes, round(found.share, 3), found.verdict
        (32256, 0.093, 'fine')
    """
    if boot_loader_bytes < 0 or (program_bytes is not None and program_bytes <= boot_loader_bytes):
        raise ValueError(f"program_bytes {program_bytes}, boot_loader_bytes {boot_loader_bytes}")
    if not 0 < allowed_share <= 1:
        raise ValueError(f"allowed_share {allowed_share} must be over 0 and at most 1")
    counted = _counted_once(claims)
    used = sum(claim.total_bytes for claim in counted)
    room = None if program_bytes is None else program_bytes - boot_loader_bytes
    missing = tuple(claim.name for claim in counted if claim.size_bytes is None)
    return ProgramBudget(
        used_bytes=used,
        room_bytes=room,
        share=None if room is None else used / room,
        counted=counted,
        missing=missing,
        verdict=verdict_of(
            is_stop=room is not None and used > room,
            is_caution=room is not None and used > room * allowed_share,
            is_complete=room is not None and not missing,
        ),
        mark=_mark_of(counted, program_bytes, program_mark),
    )


def _counted_once(claims: Iterable[MemoryClaim]) -> tuple[MemoryClaim, ...]:
    """The claims in order, each `once_as` once: the largest stands in the place of the first."""
    kept: list[MemoryClaim] = []
    place_of: dict[str, int] = {}
    for claim in claims:
        if claim.count < 0 or (claim.size_bytes is not None and claim.size_bytes < 0):
            raise ValueError(f"{claim.name}: {claim.count} x {claim.size_bytes} bytes: none may be negative")
        if not claim.count:
            continue
        place = place_of.get(claim.once_as) if claim.once_as else None
        if place is None:
            if claim.once_as:
                place_of[claim.once_as] = len(kept)
            kept.append(claim)
        elif claim.total_bytes > kept[place].total_bytes:
            kept[place] = claim
    return tuple(kept)


def _mark_of(counted: tuple[MemoryClaim, ...], limit_bytes: int | None, limit_mark: str) -> str | None:
    marks = [claim.mark for claim in counted if claim.size_bytes is not None]
    return weakest([*marks, limit_mark] if limit_bytes is not None else marks)
